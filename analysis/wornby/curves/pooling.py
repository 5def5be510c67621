"""Small groups lend one another strength: partial pooling of failure rates across versions.

With one shape for all, a group's failures are Poisson with its exposure, the sum of exit^shape -
entry^shape; the groups' rates are taken from one gamma distribution (Gaver & O'Muircheartaigh
1987). A group's own rate is drawn towards the common one, the more so the less exposure it has.

Taking the most likely gamma for the true one would make groups that chance could explain look
surely alike; so the answer is averaged over all shapes, mean rates and spreads between groups
that the data leave open (Gelman et al. 2013, chapter 5), see `pooling_nodes`.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.optimize import minimize_scalar
from scipy.special import gammaln, xlogy

from wornby.curves.ascent import climb
from wornby.curves.bands import check_confidence
from wornby.curves.given_shape import RateBelief, weibayes
from wornby.curves.log_ages import Array
from wornby.curves.pooling_nodes import pooling_grid
from wornby.curves.shape_prior import ShapePrior
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

LEAST_SPREAD, MOST_SPREAD = 1e-4, 30.0
N_SIZES, N_ZOOMS = 25, 10


@dataclass(frozen=True, eq=False, slots=True)
class PooledGroups:
    """Each group's B life alone, pooled with the others, and all as one.

    `table` has group, failures, exposure, own, pooled, lower, upper, pull. `pooled` and its
    limits are the posterior's median and equal-tailed quantiles; `pull` says how far the rate was
    drawn from the group's own to the common one, 0 to 1, on average. `own` is empty for a group
    without failures. `spread` is the likeliest coefficient of variation of rates between groups.
    """

    table: pl.DataFrame
    shape: float
    share: float
    common: float
    spread: float
    unit: str
    confidence: float


def shared_shape(groups: Mapping[str, Counts]) -> float:
    """The shape of highest likelihood when each group has a scale of its own.

    EstimateError: bounded failures, or a shape that runs away.
    """
    found = minimize_scalar(
        lambda place: -shape_height(groups, place),
        bounds=(-3.0, 4.0),
        method="bounded",
        options={"xatol": 1e-9},
    )
    if found.x > 3.9:
        raise EstimateError("the shape runs away: in each group the failures share one age")
    if found.x < -2.9:
        raise EstimateError(
            "the shape runs away to nought: late entries leave nothing to tell it by"
        )
    return float(np.exp(found.x))


def shape_height(groups: Mapping[str, Counts], log_shape: float) -> float:
    """Log-likelihood of a shape, each group's scale at its best for it.

    EstimateError as `weibayes`.
    """
    shape, total = float(np.exp(log_shape)), 0.0
    for counts in groups.values():
        fit = weibayes(counts, shape=shape)
        if fit.failures:
            rate = np.log(shape * fit.failures / fit.exposure)
            total += fit.failures * float(rate) + (shape - 1) * failed_logs(counts)
    return total


def failed_logs(counts: Counts) -> float:
    """Sum of the logarithms of the failure ages."""
    _, lower, upper, count = counts.columns()
    failed = lower == upper
    return float((count[failed] * np.log(lower[failed])).sum())


def common_belief(failures: Array, exposure: Array) -> RateBelief:
    """The gamma distribution of rates between groups of highest marginal likelihood.

    The failures of a group are then negative binomial. Rates that differ no more than chance
    would have them give a very narrow distribution: complete pooling.
    """
    low, high = -2 * np.log(MOST_SPREAD), -2 * np.log(LEAST_SPREAD)
    for _ in range(N_ZOOMS):
        log_size = np.linspace(low, high, N_SIZES)
        height, mean = marginal_likelihood(failures, exposure, np.exp(log_size))
        best = int(np.argmax(height))
        low, high = log_size[max(best - 1, 0)], log_size[min(best + 1, N_SIZES - 1)]
    size = float(np.exp(log_size[best]))
    return RateBelief(size, size / float(mean[best]))


def marginal_likelihood(failures: Array, exposure: Array, size: Array) -> tuple[Array, Array]:
    """Highest likelihood (n,) for each size of the gamma (n,), and its mean rate there."""
    size = size[:, None]

    def objective(log_mean: Array) -> tuple[Array, Array, Array]:
        with np.errstate(all="ignore"):
            expected = np.exp(log_mean) * exposure
            share = expected / (size + expected)
            value = (xlogy(failures, share) + size * np.log1p(-share)).sum(-1)
            gradient = (failures - (failures + size) * share).sum(-1, keepdims=True)
            bend = -((failures + size) * share * (1 - share)).sum(-1)
        return np.where(np.isfinite(value), value, -np.inf), gradient, bend[:, None, None]

    start = np.full((len(size), 1), np.log(failures.sum() / exposure.sum()))
    summit = climb(objective, start)
    constant = (gammaln(failures + size) - gammaln(size)).sum(-1)
    return summit.value + constant, np.exp(summit.point[:, 0])


def pooled_groups(
    groups: Mapping[str, Counts], *, share: float, confidence: float, prior: ShapePrior
) -> PooledGroups:
    """B lives of groups drawn towards one another as far as the data ask.

    `prior` is for the shape; `own` and `common` take the likeliest shape without it. ValueError:
    fewer than two groups, mixed units, a share that is none. EstimateError: bounded failures, none
    at all, no time at risk, or a shape that runs away.

    >>> from wornby.curves.shape_prior import CAR_COMPONENT
    >>> def version(ages: list[float]) -> Counts:
    ...     table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 1.0})
    ...     return Counts(table, unit="years", what="pump", rule="as watched")
    >>> groups = {"short": version([5.0, 7.0, 8.0, 9.0]), "long": version([9.0, 12.0])}
    >>> found = pooled_groups(groups, share=0.1, confidence=0.9, prior=CAR_COMPONENT)
    >>> found.table.select("group", pl.col("own", "pooled").round(1)).rows()
    [('short', 5.6, 5.1), ('long', 7.9, 6.0)]
    """
    _check(groups, share=share, confidence=confidence)
    shape = shared_shape(groups)
    fits = [weibayes(counts, shape=shape) for counts in groups.values()]
    failures = np.array([fit.failures for fit in fits])
    exposure = np.array([fit.exposure for fit in fits])
    if not (np.isfinite(exposure).all() and exposure.sum() > 0):
        raise EstimateError(f"{', '.join(groups)}: no time at risk to pool")
    belief, hazard = common_belief(failures, exposure), -np.log1p(-share)

    def life(rate: float) -> float:
        return float((hazard / rate) ** (1 / shape))

    grid = pooling_grid(groups, shape, prior)
    tail = (1 - confidence) / 2
    pooled, lower, upper = grid.lives(failures, hazard=hazard, shares=(0.5, tail, 1 - tail))
    own = [life(f / e) if f else None for f, e in zip(failures, exposure, strict=True)]
    table = pl.DataFrame(
        {
            "group": list(groups),
            "failures": failures,
            "exposure": exposure,
            "own": pl.Series(own, dtype=pl.Float64),
            "pooled": pooled,
            "lower": lower,
            "upper": upper,
            "pull": grid.pull(),
        }
    )
    spread = float(belief.failures**-0.5)
    unit = fits[0].unit
    return PooledGroups(table, shape, share, life(belief.mean), spread, unit, confidence)


def _check(groups: Mapping[str, Counts], *, share: float, confidence: float) -> None:
    """Refuse what cannot be pooled."""
    check_confidence(confidence)
    if not 0 < share < 1:
        raise ValueError(f"share {share}: wanted between 0 and 1")
    if len(groups) < 2:
        raise ValueError(f"groups {', '.join(groups) or 'none'}: wanted at least two")
    if len(units := {counts.unit for counts in groups.values()}) > 1:
        raise ValueError(f"groups in {', '.join(sorted(units))}: wanted one unit")
    if not sum(counts.n_failures for counts in groups.values()):
        raise EstimateError(f"no failure in {', '.join(groups)}: nothing to pool")
