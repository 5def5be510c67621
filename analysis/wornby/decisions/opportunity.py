"""From what age to renew a part at the next opening, when openings come by chance."""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wornby.decisions.costs import check_amounts
from wornby.decisions.least_cost_age import UncertainRenewalAdvice, least_cost_advice
from wornby.decisions.long_run import Curve, MeanService, mean_service, rows_of
from wornby.decisions.renewal_age import FLAT_SHARE

LEAST_SHARE_OF_LIFE = 1e-3
"""Ages are searched from so small a share of the longest mean life: the next opening, always."""
SMALLEST = 1e-300
Floats = NDArray[np.float64]


def opportunity_replacement(
    curve: Curve,
    *,
    openings_per_year: ArrayLike,
    renewal_cost: float,
    failure_cost: float,
    flat_share: float = FLAT_SHARE,
    confidence: float = 0.95,
) -> UncertainRenewalAdvice:
    """The age from which the next opening is used to renew, with the least cost a year.

    Openings for other reasons come by chance at a constant rate (Dekker & Dijkstra 1992), one
    for all or one for each draw of the curve. `renewal_cost` is what renewing costs while open,
    `failure_cost` includes the access that a failure pays by itself. An age near 0 says to renew
    at every opening, an infinite one to run to failure. With openings at any moment it is age
    replacement.

    >>> from wornby.curves.uncertainty import WeibullDraws
    >>> advice = opportunity_replacement(
    ...     WeibullDraws(np.array([3.0]), np.array([12.0]), "years"),
    ...     openings_per_year=0.25, renewal_cost=100.0, failure_cost=700.0,
    ... ).advice
    >>> round(advice.age_years, 1), round(advice.saving, 2)
    (2.8, 0.41)
    """
    openings = np.atleast_1d(np.asarray(openings_per_year, dtype=np.float64))
    check_amounts("opportunity replacement", renewal_cost=renewal_cost, failure_cost=failure_cost)
    if not np.isfinite(openings).all() or min(openings.min(), renewal_cost) <= 0:
        raise ValueError(
            f"opportunity replacement: openings_per_year {openings.min():g} and renewal_cost "
            f"{renewal_cost:g}, wanted both finite and above 0"
        )
    service = mean_service(curve)
    waiting = _waiting(service, openings[:, None])

    def rates(age: ArrayLike) -> Floats:
        at = np.atleast_1d(np.asarray(age, dtype=np.float64))
        until_opening = waiting(at)
        by_plan = openings[:, None] * until_opening
        cost = failure_cost * (1 - by_plan) + renewal_cost * by_plan
        return np.asarray(cost / (service.length(at) + until_opening))

    least = LEAST_SHARE_OF_LIFE * float(np.max(service.mean_life))
    return least_cost_advice(
        rates,
        np.geomspace(least, service.ages[-1], 400),
        run_to_failure=failure_cost / np.atleast_1d(service.mean_life),
        costs=(renewal_cost, failure_cost),
        flat_share=flat_share,
        confidence=confidence,
    )


def _waiting(service: MeanService, openings: Floats) -> Callable[[Floats], Floats]:
    """Service expected from each age to the next opening or failure, whichever is first.

    It is the integral of survival from the age on, discounted at the rate of openings, gathered
    from the last age back; within a cell the hazard is taken as constant, so that openings may
    come as often as they like.
    """
    ages, log_survival = service.ages, _log_survival(service, service.ages)
    width = np.diff(ages)
    leaving = openings - np.diff(log_survival) / width
    area = np.exp(log_survival[:, :-1]) * -np.expm1(-leaving * width) / leaving
    fade = np.exp(-openings * width)
    gathered = np.zeros((len(area), ages.size))
    for cell in range(ages.size - 2, -1, -1):
        gathered[:, cell] = area[:, cell] + fade[:, cell] * gathered[:, cell + 1]

    def waiting(age: Floats) -> Floats:
        cell = np.clip(np.searchsorted(ages, age, side="right") - 1, 0, width.size - 1)
        left = np.maximum(ages[cell + 1] - age, 0.0)
        here = np.exp(_log_survival(service, age)) * -np.expm1(-leaving[:, cell] * left)
        return here / leaving[:, cell] + np.exp(-openings * left) * gathered[:, cell + 1]

    return waiting


def _log_survival(service: MeanService, age: Floats) -> Floats:
    return np.asarray(np.log(np.maximum(rows_of(service.curve, age), SMALLEST)))
