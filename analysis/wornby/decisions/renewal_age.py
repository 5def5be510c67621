"""At what age to renew a part before it fails, or whether to leave it until it does."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq, minimize_scalar

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs import check_amounts
from wornby.decisions.long_run import (
    Curve,
    best_weibull_ages,
    check_draws,
    mean_service,
    weibull_cost_rate,
    weibull_mean_life,
)

CostRate = Callable[[ArrayLike], NDArray[np.float64]]

FAILURE_NOT_DEARER = "a failure costs no more than a planned renewal"
NO_AGE_PAYS = (
    "no age of renewal costs less than running to failure: the hazard does not rise enough"
)


@dataclass(frozen=True, eq=False, slots=True)
class RenewalAdvice:
    """Renew at `age_years` (infinite: run to failure, for `reason`), against doing nothing.

    Rates are money a year over the long run. From `flat_from_years` to `flat_until_years` the
    rate stays within `flat_share` of the least. `table` has age_years and cost_per_year_net.
    """

    age_years: float
    cost_rate: float
    run_to_failure_rate: float
    flat_from_years: float
    flat_until_years: float
    flat_share: float
    reason: str
    planned_cost: float
    failure_cost: float
    table: pl.DataFrame

    @property
    def saving(self) -> float:
        """Share of the run-to-failure cost that the advice saves."""
        return 1 - self.cost_rate / self.run_to_failure_rate


@dataclass(frozen=True, eq=False, slots=True)
class UncertainRenewalAdvice:
    """The advice for the mean cost rate over all draws, and how far the draws agree.

    `age_lower` to `age_upper` holds the draws' own best ages at `confidence` (infinite: run to
    failure). `probability_saves` is the share of draws in which renewing at the advised age
    costs less than running to failure; None where running to failure is the advice.
    """

    advice: RenewalAdvice
    age_lower: float
    age_upper: float
    cost_rate_lower: float
    cost_rate_upper: float
    saving_lower: float
    saving_upper: float
    confidence: float
    probability_saves: float | None


def age_replacement(
    curve: Curve, *, planned_cost: float, failure_cost: float, flat_share: float = 0.05
) -> RenewalAdvice:
    """The renewal age with the least cost a year over the long run (Barlow & Hunter 1960).

    The curve may be anything with `survival(age)`. An age can be best and yet worthless: look
    at `saving`.

    >>> from wornby.curves.uncertainty import WeibullDraws
    >>> from scipy.stats import norm
    >>> class Normal:
    ...     def survival(self, age):
    ...         return norm.sf(age, loc=5, scale=1)
    >>> advice = age_replacement(Normal(), planned_cost=5, failure_cost=10)
    >>> round(advice.age_years, 2), round(advice.cost_rate, 3), round(advice.saving, 2)
    (4.02, 1.479, 0.26)
    """
    _check(planned_cost, failure_cost)
    service = mean_service(curve)

    def rate(age: ArrayLike) -> NDArray[np.float64]:
        return service.cost_rate(age, planned=planned_cost, failure=failure_cost)

    return renewal_advice(
        rate,
        service.ages[1:],
        run_to_failure=failure_cost / service.mean_life,
        costs=(planned_cost, failure_cost),
        flat_share=flat_share,
    )


def age_replacement_under(
    draws: WeibullDraws,
    *,
    planned_cost: float,
    failure_cost: float,
    flat_share: float = 0.05,
    confidence: float = 0.95,
) -> UncertainRenewalAdvice:
    """The renewal age for the mean cost rate over a posterior's draws.

    One curve is true and is lived with for the long run, so the cost rate is expected cost over
    expected length under each draw, and these rates are averaged. (Averaging cost and length
    first would price parts that each draw a curve of their own.)
    """
    _check(planned_cost, failure_cost)
    check_draws(draws, "age replacement")

    def rate(age: ArrayLike) -> NDArray[np.float64]:
        rates = weibull_cost_rate(draws, age, planned=planned_cost, failure=failure_cost)
        return np.asarray(rates.mean(axis=0))

    grid = np.geomspace(np.median(draws.scale) * 1e-3, draws.scale.max() * 20, 160)
    run_to_failure = failure_cost / weibull_mean_life(draws)
    advice = renewal_advice(
        rate,
        grid,
        run_to_failure=float(run_to_failure.mean()),
        costs=(planned_cost, failure_cost),
        flat_share=flat_share,
    )
    return _with_spread(advice, draws, run_to_failure=run_to_failure, confidence=confidence)


def renewal_advice(
    rate: CostRate,
    grid: NDArray[np.float64],
    *,
    run_to_failure: float,
    costs: tuple[float, float],
    flat_share: float,
) -> RenewalAdvice:
    """The age with the least of any cost rate, searched on a grid and then between its points.

    `costs` are those of a planned renewal and of a failure.
    """
    rates = rate(grid)
    age, least, reason = math.inf, run_to_failure, NO_AGE_PAYS
    if costs[1] <= costs[0]:
        reason = FAILURE_NOT_DEARER
    else:
        best_age, best_rate = _least(rate, grid, rates)
        if best_rate < run_to_failure * (1 - 1e-9):
            age, least = best_age, best_rate
            reason = f"saves {1 - least / run_to_failure:.1%} of what running to failure costs"
    limit = least * (1 + flat_share)
    below, above = grid[grid < age][::-1], grid[grid > age]
    if math.isfinite(age):
        below, above = np.append(age, below), np.append(age, above)
    shown = grid[np.linspace(0, len(grid) - 1, 160).astype(int)]
    return RenewalAdvice(
        age_years=age,
        cost_rate=least,
        run_to_failure_rate=run_to_failure,
        flat_from_years=_crossing(rate, below, limit, beyond=0.0),
        flat_until_years=_crossing(rate, above, limit, beyond=math.inf),
        flat_share=flat_share,
        reason=reason,
        planned_cost=costs[0],
        failure_cost=costs[1],
        table=pl.DataFrame({"age_years": shown, "cost_per_year_net": rate(shown)}),
    )


def _check(planned_cost: float, failure_cost: float) -> None:
    check_amounts("age replacement", planned_cost=planned_cost, failure_cost=failure_cost)
    if min(planned_cost, failure_cost) == 0:
        raise ValueError(
            f"age replacement: planned_cost {planned_cost} and failure_cost {failure_cost}, "
            "wanted both above 0"
        )


def _least(
    rate: CostRate, grid: NDArray[np.float64], rates: NDArray[np.float64]
) -> tuple[float, float]:
    at = int(np.argmin(rates))
    bracket = grid[max(at - 1, 0)], grid[min(at + 1, len(grid) - 1)]
    found = minimize_scalar(
        lambda age: float(rate(age)[0]),
        bounds=bracket,
        method="bounded",
        options={"xatol": 1e-9 * float(bracket[1])},
    )
    return float(found.x), float(found.fun)


def _crossing(
    rate: CostRate, outward: NDArray[np.float64], limit: float, *, beyond: float
) -> float:
    over = np.flatnonzero(rate(outward) > limit) if outward.size else np.array([], dtype=int)
    if not over.size:
        return beyond
    first = int(over[0])
    if first == 0:
        return float(outward[0])
    inside, outside = float(outward[first - 1]), float(outward[first])
    return float(brentq(lambda age: float(rate(age)[0]) - limit, inside, outside))


def _with_spread(
    advice: RenewalAdvice,
    draws: WeibullDraws,
    *,
    run_to_failure: NDArray[np.float64],
    confidence: float,
) -> UncertainRenewalAdvice:
    ends = [(1 - confidence) / 2, (1 + confidence) / 2]
    rates, probability = run_to_failure, None
    if math.isfinite(advice.age_years):
        planned, failure = advice.planned_cost, advice.failure_cost
        rates = weibull_cost_rate(draws, advice.age_years, planned=planned, failure=failure)[:, 0]
        probability = float(np.mean(rates < run_to_failure))
    ages = best_weibull_ages(draws, cost_ratio=advice.failure_cost / advice.planned_cost)
    age_lower, age_upper = np.quantile(ages, ends, method="inverted_cdf")
    rate_lower, rate_upper = np.quantile(rates, ends)
    saving_lower, saving_upper = np.quantile(1 - rates / run_to_failure, ends)
    return UncertainRenewalAdvice(
        advice=advice,
        age_lower=float(age_lower),
        age_upper=float(age_upper),
        cost_rate_lower=float(rate_lower),
        cost_rate_upper=float(rate_upper),
        saving_lower=float(saving_lower),
        saving_upper=float(saving_upper),
        confidence=confidence,
        probability_saves=probability,
    )
