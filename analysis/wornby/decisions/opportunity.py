"""From what age to renew a part at the next opening, when openings come by chance."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wornby.decisions.costs import check_amounts
from wornby.decisions.long_run import NODES, WEIGHTS, Curve, MeanService, mean_service
from wornby.decisions.renewal_age import RenewalAdvice, renewal_advice

CELLS = 120


def opportunity_replacement(
    curve: Curve,
    *,
    openings_per_year: float,
    renewal_cost: float,
    failure_cost: float,
    flat_share: float = 0.05,
) -> RenewalAdvice:
    """The age from which the next opening is used to renew, with the least cost a year.

    Openings for other reasons come by chance at a constant rate (Dekker & Dijkstra 1992);
    `renewal_cost` is what renewing costs while open, `failure_cost` includes the access that a
    failure pays by itself. An age near 0 says to renew at every opening, an infinite one to run
    to failure. With openings at any moment it is age replacement.

    >>> class Worn:
    ...     def survival(self, age):
    ...         return np.exp(-((np.asarray(age) / 12.0) ** 3.0))
    >>> advice = opportunity_replacement(
    ...     Worn(), openings_per_year=0.25, renewal_cost=100.0, failure_cost=700.0
    ... )
    >>> round(advice.age_years, 1), round(advice.saving, 2)
    (2.8, 0.41)
    """
    check_amounts("opportunity replacement", renewal_cost=renewal_cost, failure_cost=failure_cost)
    if not np.isfinite(openings_per_year) or min(openings_per_year, renewal_cost) <= 0:
        raise ValueError(
            f"opportunity replacement: openings_per_year {openings_per_year} and renewal_cost "
            f"{renewal_cost}, wanted both above 0"
        )
    service = mean_service(curve)

    def rate(age: ArrayLike) -> NDArray[np.float64]:
        at = np.atleast_1d(np.asarray(age, dtype=np.float64))
        waiting = _waiting(service, at, openings_per_year)
        by_plan = openings_per_year * waiting
        cost = failure_cost * (1 - by_plan) + renewal_cost * by_plan
        return np.asarray(cost / (service.length(at) + waiting))

    last = service.ages[-1]
    return renewal_advice(
        rate,
        last * np.geomspace(1e-5, 1, 400),
        run_to_failure=failure_cost / service.mean_life,
        costs=(renewal_cost, failure_cost),
        flat_share=flat_share,
    )


def _waiting(
    service: MeanService, age: NDArray[np.float64], openings_per_year: float
) -> NDArray[np.float64]:
    """Service expected from each age to the next opening or failure, whichever is first."""
    longest = np.minimum(service.ages[-1], 40 / openings_per_year)
    edges = np.concatenate([[0.0], longest * np.geomspace(1e-4, 1, CELLS)])
    half = np.diff(edges)[:, None] / 2
    wait = (edges[:-1, None] + half * (1 + NODES)).ravel()
    weight = (half * WEIGHTS).ravel() * np.exp(-openings_per_year * wait)
    left = service.curve.survival((age[:, None] + wait).ravel()).reshape(age.size, -1)
    return np.asarray(left @ weight)
