"""At what age to renew a part before it fails, or whether to leave it until it does."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs import check_amounts
from wornby.decisions.least_cost_age import UncertainRenewalAdvice, least_cost_advice
from wornby.decisions.long_run import (
    Curve,
    best_weibull_ages,
    check_draws,
    mean_service,
    weibull_cost_rate,
    weibull_mean_life,
)

FLAT_SHARE = 0.05


def age_replacement(
    curve: Curve,
    *,
    planned_cost: float,
    failure_cost: float,
    flat_share: float = FLAT_SHARE,
    confidence: float = 0.95,
) -> UncertainRenewalAdvice:
    """The renewal age with the least cost a year over the long run (Barlow & Hunter 1960).

    The curve may be anything with `survival(age)`: one curve, or draws of it in rows. Under each
    draw the rate is expected cost over expected length, and these rates are averaged. An age can
    be best and yet worthless: look at `saving`. Weibull draws take the closed form.

    >>> from scipy.stats import norm
    >>> class Normal:
    ...     def survival(self, age):
    ...         return norm.sf(age, loc=5, scale=1)
    >>> advice = age_replacement(Normal(), planned_cost=5, failure_cost=10).advice
    >>> round(advice.age_years, 2), round(advice.cost_rate, 3), round(advice.saving, 2)
    (4.02, 1.479, 0.26)
    """
    _check(planned_cost, failure_cost)
    if isinstance(curve, WeibullDraws):
        return _of_weibull(curve, (planned_cost, failure_cost), flat_share, confidence)
    service = mean_service(curve)

    def rates(age: ArrayLike) -> NDArray[np.float64]:
        rates = service.cost_rate(age, planned=planned_cost, failure=failure_cost)
        return np.atleast_2d(rates)

    return least_cost_advice(
        rates,
        service.ages[1:],
        run_to_failure=np.atleast_1d(failure_cost / service.mean_life),
        costs=(planned_cost, failure_cost),
        flat_share=flat_share,
        confidence=confidence,
    )


def _of_weibull(
    draws: WeibullDraws, costs: tuple[float, float], flat_share: float, confidence: float
) -> UncertainRenewalAdvice:
    check_draws(draws, "age replacement")
    planned, failure = costs

    def rates(age: ArrayLike) -> NDArray[np.float64]:
        return weibull_cost_rate(draws, age, planned=planned, failure=failure)

    return least_cost_advice(
        rates,
        np.geomspace(np.median(draws.scale) * 1e-3, draws.scale.max() * 20, 160),
        run_to_failure=failure / weibull_mean_life(draws),
        costs=costs,
        flat_share=flat_share,
        confidence=confidence,
        own_best=best_weibull_ages(draws, cost_ratio=failure / planned),
    )


def _check(planned_cost: float, failure_cost: float) -> None:
    check_amounts("age replacement", planned_cost=planned_cost, failure_cost=failure_cost)
    if min(planned_cost, failure_cost) == 0:
        raise ValueError(
            f"age replacement: planned_cost {planned_cost} and failure_cost {failure_cost}, "
            "wanted both above 0"
        )
