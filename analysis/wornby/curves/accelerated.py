"""Accelerated life: by what factor a grade, version or use stretches life, with errors by vehicle.

z = slope x (log age - intercept' - columns x effects) in a standard family, as in `likelihood`,
with one place for each life; an effect is the logarithm of the factor on life (Lawless 2003,
chapter 6). Takes delayed entry, bounds and counts. The sandwich variance sums scores by
vehicle (Huber 1967; White 1982).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.curves.ascent import climb
from wornby.curves.bands import check_confidence
from wornby.curves.effects import (
    Compared,
    compared,
    effect_table,
    trusted_inverse,
    vehicle_sums,
)
from wornby.curves.hazard_cells import Places
from wornby.curves.likelihood import WEIBULL, Family, log_density
from wornby.curves.log_ages import Array


@dataclass(frozen=True, eq=False, slots=True)
class Point:
    """Some lives' place at one of their ages: z = theta x directions."""

    rows: Places
    directions: Array


@dataclass(frozen=True, eq=False, slots=True)
class Regression:
    """Lives taken apart: where each was alive, entered, failed, or was bounded."""

    lives: Compared
    alive: Point
    entered: Point
    failed: Point
    lower: Point
    upper: Point
    log_ages: float


def regression(lives: Compared) -> Regression:
    """Where each life stood at its ages; log ages are measured from the mean of the failures'."""
    entry, lower, upper = lives.entry, lives.lower, lives.upper
    exact, bounded = lower == upper, np.isfinite(upper) & (upper > lower)
    centre = float(np.log(upper[np.isfinite(upper)]).mean())

    def at(ages: Array, which: NDArray[np.bool_]) -> Point:
        rows = np.flatnonzero(which)
        log_age = np.log(ages[rows]) - centre
        ones = np.ones((rows.size, 1))
        return Point(rows, np.concatenate([-ones, -lives.x[rows], log_age[:, None]], axis=1))

    return Regression(
        lives,
        at(lower, ~bounded & (lower > 0)),
        at(entry, entry > 0),
        at(lower, exact),
        at(lower, bounded & (lower > 0)),
        at(upper, bounded),
        float(lives.count[exact] @ np.log(lower[exact])),
    )


@dataclass(frozen=True, eq=False, slots=True)
class Terms:
    """The log-likelihood, each life's score (n, p) for one of its count, and the Hessian."""

    value: float
    scores: Array
    hessian: Array


def terms(family: Family, told: Regression, theta: Array) -> Terms:
    """Add up what each life says at one point."""
    n, p = told.lives.count.size, theta.size
    value, scores, hessian = 0.0, np.zeros((n, p)), np.zeros((p, p))
    signed = ((told.alive, family.log_survival, 1.0), (told.entered, family.log_survival, -1.0))
    for point, law, sign in (*signed, (told.failed, family.log_hazard, 1.0)):
        weight, u = told.lives.count[point.rows] * sign, point.directions
        level, first, second = law(u @ theta)
        value += float(weight @ level)
        scores[point.rows] += sign * first[:, None] * u
        hessian += (u * (weight * second)[:, None]).T @ u
    n_failed, slope = float(told.lives.count[told.failed.rows].sum()), theta[-1]
    scores[told.failed.rows, -1] += 1 / slope
    hessian[-1, -1] -= n_failed / slope**2
    value += n_failed * float(np.log(slope)) - told.log_ages
    bounded_value, bounded_hessian = bounded(family, told, theta, scores=scores)
    return Terms(value + bounded_value, scores, hessian + bounded_hessian)


def bounded(
    family: Family, told: Regression, theta: Array, *, scores: Array
) -> tuple[float, Array]:
    """Log chances of failing within bounds, adding their scores in place; and their Hessian."""
    rows, u_high = told.upper.rows, told.upper.directions
    u_low, begun = np.zeros_like(u_high), np.isin(rows, told.lower.rows)
    u_low[begun] = told.lower.directions
    at_low, at_high = u_low @ theta, u_high @ theta
    alive = np.where(begun, family.log_survival(at_low)[0], 0.0)
    log_chance = alive + np.log(-np.expm1(family.log_survival(at_high)[0] - alive))
    low, low_slope = log_density(family, at_low)
    high, high_slope = log_density(family, at_high)
    p_low, p_high = np.where(begun, np.exp(low - log_chance), 0.0), np.exp(high - log_chance)
    own = p_high[:, None] * u_high - p_low[:, None] * u_low
    scores[rows] += own
    weight = told.lives.count[rows]
    up = (u_high * (weight * p_high * high_slope)[:, None]).T @ u_high
    down = (u_low * (weight * p_low * low_slope)[:, None]).T @ u_low
    return float(weight @ log_chance), up - down - (own * weight[:, None]).T @ own


@dataclass(frozen=True, eq=False, slots=True)
class AcceleratedFit:
    """How lives compare: `table` has column, factor, lower, upper, std_err, p_value.

    A factor of 1.2 means that life is 20 % longer. `std_err` is that of its logarithm, by
    vehicle; `naive_std_err` takes every life on its own. `shape` is the spread's inverse.
    """

    table: pl.DataFrame
    shape: float
    log_likelihood: float
    confidence: float


def accelerated_life(
    lives: pl.DataFrame, columns: Sequence[str], *, confidence: float, family: Family = WEIBULL
) -> AcceleratedFit:
    """Factors on life of the columns, with limits by vehicle; Weibull unless another family.

    `lives` has vehicle, entry, lower, upper, count (see `lives`) and the columns, ages in any
    one unit; words become one column for each but the first. Refuses as `compared` does, and with
    an EstimateError a comparison that runs away.

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
    >>> found = accelerated_life(lives, ["grade"], confidence=0.9)
    >>> found.table["factor"].round(2).to_list()
    [1.64]
    """
    check_confidence(confidence)
    told = regression(compared(lives, columns))
    p = len(told.lives.names) + 2

    def objective(theta: Array) -> tuple[Array, Array, Array]:
        with np.errstate(all="ignore"):
            found = terms(family, told, theta[0])
        value = found.value if np.isfinite(found.value) else -np.inf
        gradient = told.lives.count @ found.scores
        return np.array([value]), gradient[None, :], found.hessian[None, :, :]

    start = np.zeros((1, p))
    start[0, -1] = 1.0
    summit = climb(objective, start)
    inverse = trusted_inverse(summit, told.lives.names)
    return told_fit(family, told, summit.point[0], inverse=inverse, confidence=confidence)


def told_fit(
    family: Family, told: Regression, theta: Array, *, inverse: Array, confidence: float
) -> AcceleratedFit:
    """The factors with their limits, from the maximum."""
    lives = told.lives
    with np.errstate(divide="ignore"):
        found = terms(family, told, theta)
    moved = vehicle_sums(lives.cluster, found.scores, lives.count) @ inverse
    slope = theta[-1]
    effect = theta[1:-1] / slope / lives.spread
    to_effect = np.zeros((effect.size, theta.size))
    to_effect[:, 1:-1] = np.diag(1 / slope / lives.spread)
    to_effect[:, -1] = -effect / slope
    robust = to_effect @ (moved.T @ moved) @ to_effect.T
    naive = to_effect @ inverse @ to_effect.T
    table = effect_table(lives.names, effect, robust=robust, naive=naive, confidence=confidence)
    factors = table.rename({"effect": "factor"})
    return AcceleratedFit(factors, float(slope), found.value, confidence)
