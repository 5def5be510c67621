"""Cox's proportional hazards for lives with delayed entry, on counts, with errors by vehicle.

Ours, since lifelines' fit slows nearly with the square of the rows once entry is delayed. Ties
by Efron (1977). The sandwich variance sums influences by vehicle (Lin & Wei 1989).
A frame of lives has vehicle, entry, lower, upper, count, as `lives` means them, and the
columns asked for, as numbers; words become one column for each but the first.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.stats import chi2

from wornby.curves.ascent import climb
from wornby.curves.bands import check_confidence
from wornby.curves.effects import compared, effect_table, trusted_inverse, vehicle_sums
from wornby.curves.hazard_cells import Places
from wornby.curves.log_ages import Array
from wornby.errors import EstimateError

MOST_TIED = 1000
SAME_AGE = 1e-9


@dataclass(frozen=True, eq=False, slots=True)
class Lives:
    """Lives with exact ages (n,) and their columns (n, p); `failed` is 1 or 0."""

    names: list[str]
    x: Array
    spread: Array
    entry: Array
    exit: Array
    failed: Array
    count: Array
    cluster: Places


def lives_with(lives: pl.DataFrame, columns: Sequence[str]) -> Lives:
    """Check and take apart a frame of lives, none of them bounded.

    EstimateError where a failure is known within bounds only.
    """
    all_of = compared(lives, columns)
    if (np.isfinite(all_of.upper) & (all_of.upper > all_of.lower)).any():
        raise EstimateError("failures known only within bounds, wanted exact ages")
    return Lives(
        names=all_of.names,
        x=all_of.x,
        spread=all_of.spread,
        entry=all_of.entry,
        exit=all_of.lower,
        failed=(all_of.lower == all_of.upper).astype(np.float64),
        count=all_of.count,
        cluster=all_of.cluster,
    )


@dataclass(frozen=True, eq=False, slots=True)
class Ties:
    """Each tied failure in Efron's order: its age's place, the share already let go, its weight.

    `number` (a,) is that of the failures at each age.
    """

    age: Array
    number: Array
    place: Places
    let_go: Array
    weight: Array


def ties(seen: Lives) -> Ties:
    """One entry for each failure; a count of two is two at once, a half weighs half.

    More than `MOST_TIED` failures at one age share as many entries, each at its block's middle.
    """
    failed = seen.failed > 0
    age, back = np.unique(seen.exit[failed], return_inverse=True)
    number = np.bincount(back, np.ceil(seen.count[failed])).astype(np.float64)
    times = np.minimum(number, MOST_TIED).astype(np.int64)
    weight = np.bincount(back, seen.count[failed]) / times
    place = np.repeat(np.arange(age.size), times)
    nth = np.arange(place.size) - np.repeat(np.cumsum(times) - times, times)
    let_go = (nth + 0.5) / times[place] - 0.5 / number[place]
    return Ties(age, number, place, let_go, weight[place])


def at_risk_sums(seen: Lives, age: Array, values: Array) -> Array:
    """Sum of values (n, q) over those at risk at each age (a, q)."""
    sums = np.zeros((age.size, values.shape[1]))
    for ends, sign in ((seen.exit, 1.0), (seen.entry, -1.0)):
        order = np.argsort(-ends, kind="stable")
        total = np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(values[order], axis=0)])
        sums += sign * total[np.searchsorted(-ends[order], -age, side="right")]
    return sums


def at_failure_sums(seen: Lives, age: Array, values: Array) -> Array:
    """Sum of values (n, q) over those that fail at each age (a, q)."""
    rows = np.flatnonzero(seen.failed)
    sums = np.zeros((age.size, values.shape[1]))
    np.add.at(sums, np.searchsorted(age, seen.exit[rows]), values[rows])
    return sums


def moments(x: Array, weight: Array) -> Array:
    """Weight, weight x x, and weight x each product of two columns, side by side."""
    squares = (x[:, :, None] * x[:, None, :]).reshape(len(x), -1)
    return np.concatenate([np.ones((len(x), 1)), x, squares], axis=1) * weight[:, None]


def left_at_risk(seen: Lives, tied: Ties, parts: Array) -> Array:
    """Sums over those at risk at each failure, less the share of the tied already let go."""
    everyone, failing = (sums(seen, tied.age, parts) for sums in (at_risk_sums, at_failure_sums))
    return np.asarray(everyone[tied.place] - tied.let_go[:, None] * failing[tied.place])


def partial_likelihood(seen: Lives, tied: Ties, beta: Array) -> tuple[Array, Array, Array]:
    """Efron's partial log-likelihood with gradient and Hessian, for one row of coefficients."""
    p, score = seen.x.shape[1], seen.x @ beta[0]
    risk = seen.count * np.exp(np.clip(score, -300, 300))
    left = left_at_risk(seen, tied, moments(seen.x, risk))
    total, first = left[:, 0], left[:, 1 : p + 1]
    failures = seen.count * seen.failed
    with np.errstate(all="ignore"):
        mean = first / total[:, None]
        second = left[:, p + 1 :].reshape(-1, p, p) / total[:, None, None]
        value = float(failures @ score - tied.weight @ np.log(total))
        gradient = failures @ seen.x - tied.weight @ mean
        bend = np.tensordot(tied.weight, second, 1)
        hessian = (mean * tied.weight[:, None]).T @ mean - bend
    value = value if np.isfinite(value) else -np.inf
    return np.array([value]), gradient[None, :], hessian[None, :, :]


def score_residuals(seen: Lives, tied: Ties, beta: Array) -> Array:
    """How each life pulls on the coefficients (n, p), for one of its count."""
    p = seen.x.shape[1]
    risk = np.exp(seen.x @ beta)
    left = left_at_risk(seen, tied, moments(seen.x, seen.count * risk))
    rate, mean = tied.weight / left[:, 0], left[:, 1 : p + 1] / left[:, :1]
    steps = np.concatenate([rate[:, None], mean * rate[:, None], mean], axis=1)
    spared = steps[:, : p + 1] * tied.let_go[:, None]
    by_age, let_go = (np.zeros((tied.age.size, q)) for q in (2 * p + 1, p + 1))
    np.add.at(by_age, tied.place, steps)
    np.add.at(let_go, tied.place, spared)
    times = np.bincount(tied.place, minlength=tied.age.size)[:, None]

    gathered = np.concatenate([np.zeros((1, p + 1)), np.cumsum(by_age[:, : p + 1], axis=0)])
    until = np.searchsorted(tied.age, seen.exit, side="right")
    since = np.searchsorted(tied.age, seen.entry, side="right")
    over = gathered[until] - gathered[since]
    at = np.maximum(until - 1, 0)
    over = over - seen.failed[:, None] * let_go[at]
    own = seen.failed[:, None] * (seen.x - (by_age[:, p + 1 :] / times)[at])
    return np.asarray(own - risk[:, None] * (seen.x * over[:, :1] - over[:, 1:]))


@dataclass(frozen=True, eq=False, slots=True)
class CoxFit:
    """How hazards compare: column, ratio, lower, upper, std_err, naive_std_err, p_value.

    `std_err` is that of the log ratio, by vehicle. `covariance` is robust, `naive` is not;
    `proportional` has column, statistic and p_value of Grambsch & Therneau's test.
    """

    table: pl.DataFrame
    covariance: Array
    naive: Array
    log_likelihood: float
    proportional: pl.DataFrame
    confidence: float


def proportional_test(seen: Lives, tied: Ties, beta: Array) -> pl.DataFrame:
    """Do the ratios stay the same with age? A score test of each column times the rank of age.

    Grambsch & Therneau (1994), by its exact score test; a small p-value says that the ratio
    changes with age. Empty where all failed at one age.
    """
    p, risk = seen.x.shape[1], seen.count * np.exp(seen.x @ beta)
    left = left_at_risk(seen, tied, moments(seen.x, risk))
    mean = left[:, 1 : p + 1] / left[:, :1]
    spread = (left[:, p + 1 :] / left[:, :1]).reshape(-1, p, p)
    spread = spread - mean[:, :, None] * mean[:, None, :]
    failures = np.bincount(tied.place, tied.weight)
    rank = (np.cumsum(tied.number) - (tied.number - 1) / 2)[tied.place]
    failed_x = at_failure_sums(seen, tied.age, seen.x * seen.count[:, None])
    residual = (failed_x / failures[:, None])[tied.place] - mean

    score = (tied.weight * rank) @ residual
    whole, cross, squared = (
        np.tensordot(tied.weight * rank**power, spread, 1) for power in (0, 1, 2)
    )
    left_over = np.diag(squared - cross @ np.linalg.solve(whole, cross))
    told = left_over > SAME_AGE * np.diag(squared)
    statistic = np.where(told, score**2 / np.where(told, left_over, 1.0), np.nan)
    columns = {"column": seen.names, "statistic": statistic, "p_value": chi2.sf(statistic, 1)}
    return pl.DataFrame(columns).with_columns(pl.col("statistic", "p_value").fill_nan(None))


def cox(lives: pl.DataFrame, columns: Sequence[str], *, confidence: float) -> CoxFit:
    """Hazard ratios of the columns, at equal age (Cox 1972), with limits by vehicle.

    `lives` has vehicle, entry, lower, upper, count (see `lives`) and the columns, ages in any
    one unit. Refuses as `compared` does, and with an EstimateError bounded failures and a
    comparison that runs away.

    >>> lives = pl.DataFrame(
    ...     {
    ...         "vehicle": ["a", "a", "b", "c", "d", "e"],
    ...         "entry": 0.0,
    ...         "lower": [2.0, 3.0, 4.0, 5.0, 6.0, 7.0],
    ...         "upper": [2.0, 3.0, 4.0, 5.0, 6.0, float("inf")],
    ...         "count": 1.0,
    ...         "grade": ["cheap", "genuine", "cheap", "cheap", "genuine", "genuine"],
    ...     }
    ... )
    >>> cox(lives, ["grade"], confidence=0.9).table["ratio"].round(2).to_list()
    [0.25]
    """
    check_confidence(confidence)
    seen = lives_with(lives, columns)
    tied = ties(seen)
    start = np.zeros((1, seen.x.shape[1]))
    summit = climb(lambda beta: partial_likelihood(seen, tied, beta), start)
    inverse = trusted_inverse(summit, seen.names)
    beta = summit.point[0]
    moved = vehicle_sums(seen.cluster, score_residuals(seen, tied, beta), seen.count) @ inverse
    to_unit = np.outer(seen.spread, seen.spread)
    covariance, naive = moved.T @ moved / to_unit, inverse / to_unit
    table = effect_table(
        seen.names, beta / seen.spread, robust=covariance, naive=naive, confidence=confidence
    )
    checked = proportional_test(seen, tied, beta)
    value = float(summit.value[0])
    return CoxFit(table.rename({"effect": "ratio"}), covariance, naive, value, checked, confidence)
