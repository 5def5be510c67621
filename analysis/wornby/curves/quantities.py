"""What may be asked of a Weibull, each on a scale without bounds, and the pairs that hold it.

The pair is (intercept, slope) of z = slope x (log age - centre) - intercept; shape = slope,
log scale = centre + intercept / slope. Where the slope is free it is LEAST_SLOPE + e^free: with
late entry the likelihood may rise all the way down to a slope of nought, where the hazard falls
as 1/age, and nothing is left to reckon with.
"""

import numpy as np

from wornby.curves.log_ages import Array
from wornby.curves.parametric import LARGEST_SHAPE, WeibullCurve
from wornby.curves.profile_limits import Quantity

LEAST_SLOPE = 1e-4
LOWER_TOP, LEAST_START = -2.0, -7.0
"""A climb that started lower would find no slope to feel."""


def deviation(curve: WeibullCurve, gradient: Array) -> Array:
    """Delta-method standard errors from gradients (n, 2) in (log scale, log shape)."""
    return np.asarray(np.sqrt(((gradient @ curve.covariance) * gradient).sum(-1)))


def free_of(shape: float) -> float:
    """The free number at which the slope is `shape`."""
    return float(np.log(max(shape - LEAST_SLOPE, np.exp(LEAST_START))))


def straight(free: Array, x: Array, z: Array) -> tuple[Array, Array, Array]:
    """Pairs with z reached at x, as the slope is free: intercept = slope x - z."""
    rise = np.exp(free)
    slope = LEAST_SLOPE + rise
    first = np.stack([rise * x, rise], axis=-1)
    return np.stack([slope * x - z, slope], axis=-1), first, first


def log_shape(curve: WeibullCurve, *, centre: float) -> Quantity:
    """The logarithm of the shape; the intercept is free."""

    def path(value: Array, free: Array) -> tuple[Array, Array, Array]:
        first = np.stack([np.ones_like(free), np.zeros_like(free)], axis=-1)
        return np.stack([free, np.exp(value)], axis=-1), first, np.zeros_like(first)

    gradient = np.array([[0.0, 1.0]])
    free = curve.shape * (np.log(curve.scale) - centre)
    return Quantity(
        np.log([curve.shape]),
        deviation(curve, gradient),
        path,
        free=float(free),
        lowest=float(np.log(LEAST_SLOPE)),
        highest=float(np.log(LARGEST_SHAPE)),
    )


def log_b_life(curve: WeibullCurve, share: float, *, centre: float) -> Quantity:
    """The logarithm of the age by which `share` have failed; the slope is free."""
    z = np.log(-np.log1p(-share))

    def path(value: Array, free: Array) -> tuple[Array, Array, Array]:
        return straight(free, value - centre, np.full_like(value, z))

    gradient = np.array([[1.0, -z / curve.shape]])
    best = np.log([curve.scale]) + z / curve.shape
    return Quantity(
        best,
        deviation(curve, gradient),
        path,
        free=free_of(curve.shape),
        others=(free_of(curve.shape) + LOWER_TOP,),
        least=LEAST_START,
    )


def log_hazard_by(curve: WeibullCurve, ages: Array, *, centre: float) -> Quantity:
    """The logarithm of the cumulative hazard at each age; the slope is free."""
    x = np.log(ages) - centre

    def path(value: Array, free: Array) -> tuple[Array, Array, Array]:
        return straight(free, np.tile(x, value.size // x.size), value)

    best = curve.shape * np.log(ages / curve.scale)
    gradient = np.stack([np.full_like(best, -curve.shape), best], axis=-1)
    return Quantity(
        best,
        deviation(curve, gradient),
        path,
        free=free_of(curve.shape),
        others=(free_of(curve.shape) + LOWER_TOP,),
        least=LEAST_START,
    )


def log_powers(slope: Array, start: float, end: float) -> tuple[Array, Array, Array]:
    """log(e^(slope end) - e^(slope start)) with its two derivatives in the slope."""
    gap = end - start
    kept = -np.expm1(-slope * gap)
    left = gap * np.exp(-slope * gap) / kept
    return slope * end + np.log(kept), end + left, -gap * left / kept


def log_hazard_within(
    curve: WeibullCurve, *, age: float, horizon: float, centre: float
) -> Quantity:
    """The logarithm of the hazard gathered within `horizon` of `age`; the slope is free."""
    start, end = np.log(age) - centre, np.log(age + horizon) - centre

    def path(value: Array, free: Array) -> tuple[Array, Array, Array]:
        rise = np.exp(free)
        slope = LEAST_SLOPE + rise
        powers, by_slope, bend = log_powers(slope, start, end)
        first = np.stack([rise * by_slope, rise], axis=-1)
        second = np.stack([rise * by_slope + rise**2 * bend, rise], axis=-1)
        return np.stack([powers - value, slope], axis=-1), first, second

    at = np.log(curve.scale) - centre
    powers, first, _ = log_powers(np.array([curve.shape]), start, end)
    best = powers - curve.shape * at
    gradient = np.stack([[-curve.shape], curve.shape * (first - at)], axis=-1)
    return Quantity(
        best,
        deviation(curve, gradient),
        path,
        free=free_of(curve.shape),
        others=(free_of(curve.shape) + LOWER_TOP,),
        least=LEAST_START,
    )
