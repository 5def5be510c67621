"""The age with the least cost a year over the long run, whatever the policy, and how sure it is."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq, minimize_scalar

Floats = NDArray[np.float64]
RatesUnder = Callable[[ArrayLike], Floats]
"""Cost a year when renewing at each age: one row a draw, one column an age."""

N_SHOWN = 160
NO_SAVING = 1e-6
"""A saving below this share is rounding."""
FAILURE_NOT_DEARER = "a failure costs no more than a planned renewal"
NO_AGE_PAYS = (
    "no age of renewal costs less than running to failure: the hazard does not rise enough"
)


@dataclass(frozen=True, eq=False, slots=True)
class RenewalAdvice:
    """Renew at `age_years` (infinite: run to failure, for `reason`), against doing nothing.

    Rates are money a year over the long run, the mean over all draws of the curve: one curve is
    true and is lived with for long, so the rates are averaged, not costs and lengths apart. From
    `flat_from_years` to `flat_until_years` the rate stays within `flat_share` of the least.
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

    @property
    def saving(self) -> float:
        """Share of the run-to-failure cost that the advice saves."""
        return 1 - self.cost_rate / self.run_to_failure_rate


@dataclass(frozen=True, eq=False, slots=True)
class UncertainRenewalAdvice:
    """The advice for the mean cost rate over all draws, and how far the draws agree.

    `age_lower` to `age_upper` holds the draws' own best ages at `confidence` (infinite: run to
    failure). `probability_saves` is the share of draws in which renewing at the advised age
    costs less than running to failure; None where running to failure is the advice. `gains` is
    the share of the run-to-failure cost that each draw's own best age would save. `rates` and
    `run_to_failure` are each draw's cost a year under the advice and under doing nothing.
    `table` has the mean rate and its band: age_years, cost_per_year_net, lower_net, upper_net.
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
    gains: Floats
    rates: Floats
    run_to_failure: Floats
    table: pl.DataFrame

    def probability_worth(self, saving: float) -> float:
        """Chance that some age of renewal saves at least this share of run-to-failure cost."""
        return float(np.mean(self.gains >= saving))


def least_cost_advice(
    rates: RatesUnder,
    grid: Floats,
    *,
    run_to_failure: Floats,
    costs: tuple[float, float],
    flat_share: float,
    confidence: float,
    own_best: Floats | None = None,
) -> UncertainRenewalAdvice:
    """The age with the least mean rate, searched on a grid and then between its points.

    `costs` are those of a renewal by plan and of a failure, `own_best` each draw's best age
    where it is known better than from the grid.
    """

    def mean_rate(age: ArrayLike) -> Floats:
        return np.asarray(rates(age).mean(axis=0))

    on_grid = rates(grid)
    advice = _advice(
        mean_rate,
        grid,
        on_grid.mean(axis=0),
        run_to_failure=float(run_to_failure.mean()),
        costs=costs,
        flat_share=flat_share,
    )
    own = _own_best(grid, on_grid, run_to_failure) if own_best is None else own_best
    at_advice = run_to_failure
    if math.isfinite(advice.age_years):
        at_advice = np.asarray(rates(advice.age_years)[:, 0])
    dearer = costs[1] > costs[0]
    gains = np.maximum(1 - on_grid.min(axis=1) / run_to_failure, 0.0) * dearer
    ends = [(1 - confidence) / 2, (1 + confidence) / 2]
    return _with_spread(
        advice,
        (own, at_advice, run_to_failure, gains),
        confidence=confidence,
        table=_band(grid, on_grid, ends),
    )


def _with_spread(
    advice: RenewalAdvice,
    by_draw: tuple[Floats, Floats, Floats, Floats],
    *,
    confidence: float,
    table: pl.DataFrame,
) -> UncertainRenewalAdvice:
    """The advice with intervals from each draw's best age, cost as advised, cost left and gain."""
    own, at_advice, run_to_failure, gains = by_draw
    ends = [(1 - confidence) / 2, (1 + confidence) / 2]
    age_lower, age_upper = np.quantile(own, ends, method="inverted_cdf")
    rate_lower, rate_upper = np.quantile(at_advice, ends)
    saving_lower, saving_upper = np.quantile(1 - at_advice / run_to_failure, ends)
    acts = math.isfinite(advice.age_years)
    return UncertainRenewalAdvice(
        advice=advice,
        age_lower=float(age_lower),
        age_upper=float(age_upper),
        cost_rate_lower=float(rate_lower),
        cost_rate_upper=float(rate_upper),
        saving_lower=float(saving_lower),
        saving_upper=float(saving_upper),
        confidence=confidence,
        probability_saves=float(np.mean(at_advice < run_to_failure)) if acts else None,
        gains=gains,
        rates=at_advice,
        run_to_failure=run_to_failure,
        table=table,
    )


def _band(grid: Floats, on_grid: Floats, ends: list[float]) -> pl.DataFrame:
    shown = np.unique(np.linspace(0, grid.size - 1, N_SHOWN).astype(np.intp))
    lower, upper = np.quantile(on_grid[:, shown], ends, axis=0)
    return pl.DataFrame(
        {
            "age_years": grid[shown],
            "cost_per_year_net": on_grid[:, shown].mean(axis=0),
            "lower_net": lower,
            "upper_net": upper,
        }
    )


def _advice(
    rate: RatesUnder,
    grid: Floats,
    rates: Floats,
    *,
    run_to_failure: float,
    costs: tuple[float, float],
    flat_share: float,
) -> RenewalAdvice:
    age, least, reason = math.inf, run_to_failure, NO_AGE_PAYS
    if costs[1] <= costs[0]:
        reason = FAILURE_NOT_DEARER
    else:
        best_age, best_rate = _least(rate, grid, rates)
        if best_rate < run_to_failure * (1 - NO_SAVING):
            age, least = best_age, best_rate
            reason = f"saves {1 - least / run_to_failure:.1%} of what running to failure costs"
    limit = least * (1 + flat_share)
    below, above = grid[grid < age][::-1], grid[grid > age]
    if math.isfinite(age):
        below, above = np.append(age, below), np.append(age, above)
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
    )


def _least(rate: RatesUnder, grid: Floats, rates: Floats) -> tuple[float, float]:
    at = int(np.argmin(rates))
    bracket = grid[max(at - 1, 0)], grid[min(at + 1, len(grid) - 1)]
    found = minimize_scalar(
        lambda age: float(rate(age)[0]),
        bounds=bracket,
        method="bounded",
        options={"xatol": 1e-9 * float(bracket[1])},
    )
    return float(found.x), float(found.fun)


def _crossing(rate: RatesUnder, outward: Floats, limit: float, *, beyond: float) -> float:
    over = np.flatnonzero(rate(outward) > limit) if outward.size else np.array([], dtype=int)
    if not over.size:
        return beyond
    first = int(over[0])
    if first == 0:
        return float(outward[0])
    inside, outside = float(outward[first - 1]), float(outward[first])
    return float(brentq(lambda age: float(rate(age)[0]) - limit, inside, outside))


def _own_best(grid: Floats, on_grid: Floats, run_to_failure: Floats) -> Floats:
    """Each draw's best age on the grid, infinite where running to failure is as good."""
    pays = on_grid.min(axis=1) < run_to_failure * (1 - NO_SAVING)
    return np.where(pays, grid[on_grid.argmin(axis=1)], np.inf)
