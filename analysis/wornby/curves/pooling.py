"""Small groups lend one another strength: partial pooling of failure rates across versions.

With one shape for all, a group's failures are Poisson with its exposure, the sum of exit^shape -
entry^shape; the groups' rates are taken from one gamma distribution, fitted to all of them
(empirical Bayes: Gaver & O'Muircheartaigh 1987). A group's own rate is then drawn towards the
common one, the more so the less exposure it has.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.optimize import minimize_scalar
from scipy.special import gammaln
from scipy.stats import gamma

from wornby.curves.ascent import climb
from wornby.curves.bands import check_confidence
from wornby.curves.evidence import Array
from wornby.curves.given_shape import RateBelief, weibayes
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

LEAST_SPREAD, MOST_SPREAD = 1e-6, 30.0


@dataclass(frozen=True, eq=False, slots=True)
class PooledGroups:
    """Each group's B life alone, pooled with the others, and all as one.

    `table` has group, failures, exposure, own, pooled, lower, upper (of pooled), pull: how far
    the rate was drawn from the group's own to the common one, 0 to 1. `own` is empty for a
    group without failures. `spread` is the coefficient of variation of rates between groups.
    """

    table: pl.DataFrame
    shape: float
    share: float
    common: float
    spread: float
    unit: str
    confidence: float


def shared_shape(groups: Mapping[str, Counts]) -> float:
    """The shape of highest likelihood when each group has a scale of its own."""

    def height(log_shape: float) -> float:
        shape, total = float(np.exp(log_shape)), 0.0
        for counts in groups.values():
            fit = weibayes(counts, shape=shape)
            if fit.failures:
                _, lower, upper, count = counts.columns()
                failed = lower == upper
                logs = float((count[failed] * np.log(lower[failed])).sum())
                rate = np.log(shape * fit.failures / fit.exposure)
                total += fit.failures * float(rate) + (shape - 1) * logs
        return total

    found = minimize_scalar(
        lambda place: -height(place), bounds=(-3.0, 4.0), method="bounded", options={"xatol": 1e-9}
    )
    if found.x > 3.9:
        raise EstimateError("the shape runs away: in each group the failures share one age")
    return float(np.exp(found.x))


def common_belief(failures: Array, exposure: Array) -> RateBelief:
    """The gamma distribution of rates between groups of highest marginal likelihood.

    The failures of a group are then negative binomial. Rates that differ no more than chance
    would have them give a very narrow distribution: complete pooling.
    """

    def height(log_size: float) -> tuple[float, float]:
        size = np.exp(log_size)
        mean = common_mean(failures, exposure, size)
        share = size / (size + mean * exposure)
        parts = gammaln(failures + size) - gammaln(size) + size * np.log(share)
        return float((parts + failures * np.log1p(-share)).sum()), mean

    bounds = (-2 * np.log(MOST_SPREAD), -2 * np.log(LEAST_SPREAD))
    places = np.linspace(*bounds, 60)
    best = int(np.argmax([height(place)[0] for place in places]))
    near = places[max(best - 1, 0)], places[min(best + 1, places.size - 1)]
    found = minimize_scalar(lambda place: -height(place)[0], bounds=near, method="bounded")
    size, mean = float(np.exp(found.x)), height(float(found.x))[1]
    return RateBelief(size, size / mean)


def common_mean(failures: Array, exposure: Array, size: float) -> float:
    """The mean rate of highest marginal likelihood for a given size of the gamma."""

    def objective(log_mean: Array) -> tuple[Array, Array, Array]:
        expected = np.exp(log_mean) * exposure
        share = expected / (size + expected)
        value = (failures * np.log(share) + size * np.log1p(-share)).sum(-1)
        gradient = (failures - (failures + size) * share).sum(-1, keepdims=True)
        bend = -((failures + size) * share * (1 - share)).sum(-1)
        return value, gradient, bend[:, None, None]

    start = np.array([[np.log(failures.sum() / exposure.sum())]])
    return float(np.exp(climb(objective, start).point[0, 0]))


def pooled_groups(groups: Mapping[str, Counts], *, share: float, confidence: float) -> PooledGroups:
    """B lives of groups drawn towards one another as far as the data ask."""
    check_confidence(confidence)
    if len(groups) < 2:
        raise ValueError(f"groups {', '.join(groups) or 'none'}: wanted at least two")
    if not sum(counts.n_failures for counts in groups.values()):
        raise EstimateError(f"no failure in {', '.join(groups)}: nothing to pool")
    shape = shared_shape(groups)
    fits = [weibayes(counts, shape=shape) for counts in groups.values()]
    failures = np.array([fit.failures for fit in fits])
    exposure = np.array([fit.exposure for fit in fits])
    belief = common_belief(failures, exposure)
    tail, hazard = (1 - confidence) / 2, -np.log1p(-share)

    def life(rate: Array) -> Array:
        return np.asarray((hazard / rate) ** (1 / shape))

    size, weight = belief.failures + failures, belief.exposure + exposure
    low, high = (np.asarray(gamma.ppf(one, size, scale=1 / weight)) for one in (1 - tail, tail))
    own = np.where(failures > 0, life(np.maximum(failures, 1e-300) / exposure), np.nan)
    table = pl.DataFrame(
        {
            "group": list(groups),
            "failures": failures,
            "exposure": exposure,
            "own": own,
            "pooled": life(size / weight),
            "lower": life(low),
            "upper": life(high),
            "pull": belief.exposure / weight,
        }
    ).with_columns(pl.col("own").fill_nan(None))
    common = float(life(np.array(belief.mean)))
    spread = float(belief.failures**-0.5)
    return PooledGroups(table, shape, share, common, spread, fits[0].unit, confidence)
