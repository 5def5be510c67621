"""What may be asked of a Weibull, each on a scale without bounds, and the pairs that hold it.

The pair is (intercept, slope) of z = slope x (log age - centre) - intercept; shape = slope,
log scale = centre + intercept / slope.
"""

import numpy as np

from wornby.curves.log_ages import Array
from wornby.curves.parametric import WeibullCurve
from wornby.curves.profile_limits import Quantity


def deviation(curve: WeibullCurve, gradient: Array) -> Array:
    """Delta-method standard errors from gradients (n, 2) in (log scale, log shape)."""
    return np.asarray(np.sqrt(((gradient @ curve.covariance) * gradient).sum(-1)))


def straight(free: Array, x: Array, z: Array) -> tuple[Array, Array, Array]:
    """Pairs with z reached at x, as the log slope `free` moves: intercept = slope x - z."""
    slope = np.exp(free)
    first = np.stack([slope * x, slope], axis=-1)
    return np.stack([slope * x - z, slope], axis=-1), first, first


def log_shape(curve: WeibullCurve, *, centre: float) -> Quantity:
    """The logarithm of the shape; the intercept is free."""

    def path(value: Array, free: Array) -> tuple[Array, Array, Array]:
        first = np.stack([np.ones_like(free), np.zeros_like(free)], axis=-1)
        return np.stack([free, np.exp(value)], axis=-1), first, np.zeros_like(first)

    gradient = np.array([[0.0, 1.0]])
    free = curve.shape * (np.log(curve.scale) - centre)
    return Quantity(np.log([curve.shape]), deviation(curve, gradient), path, free=float(free))


def log_b_life(curve: WeibullCurve, share: float, *, centre: float) -> Quantity:
    """The logarithm of the age by which `share` have failed; the log slope is free."""
    z = np.log(-np.log1p(-share))

    def path(value: Array, free: Array) -> tuple[Array, Array, Array]:
        return straight(free, value - centre, np.full_like(value, z))

    gradient = np.array([[1.0, -z / curve.shape]])
    best = np.log([curve.scale]) + z / curve.shape
    return Quantity(best, deviation(curve, gradient), path, free=float(np.log(curve.shape)))


def log_hazard_by(curve: WeibullCurve, ages: Array, *, centre: float) -> Quantity:
    """The logarithm of the cumulative hazard at each age; the log slope is free."""
    x = np.tile(np.log(ages) - centre, 2)

    def path(value: Array, free: Array) -> tuple[Array, Array, Array]:
        return straight(free, x, value)

    best = curve.shape * np.log(ages / curve.scale)
    gradient = np.stack([np.full_like(best, -curve.shape), best], axis=-1)
    return Quantity(best, deviation(curve, gradient), path, free=float(np.log(curve.shape)))


def log_powers(slope: Array, start: float, end: float) -> tuple[Array, Array, Array]:
    """log(e^(slope end) - e^(slope start)) with its two derivatives in the slope."""
    gap = end - start
    lost = np.exp(-slope * gap)
    left = gap * lost / (1 - lost)
    return slope * end + np.log1p(-lost), end + left, -gap * left / (1 - lost)


def log_hazard_within(
    curve: WeibullCurve, *, age: float, horizon: float, centre: float
) -> Quantity:
    """The logarithm of the hazard gathered within `horizon` of `age`; the log slope is free."""
    start, end = np.log(age) - centre, np.log(age + horizon) - centre

    def path(value: Array, free: Array) -> tuple[Array, Array, Array]:
        slope = np.exp(free)
        powers, first, second = log_powers(slope, start, end)
        rise = np.stack([slope * first, slope], axis=-1)
        bend = np.stack([slope * first + slope**2 * second, slope], axis=-1)
        return np.stack([powers - value, slope], axis=-1), rise, bend

    at = np.log(curve.scale) - centre
    powers, first, _ = log_powers(np.array([curve.shape]), start, end)
    best = powers - curve.shape * at
    gradient = np.stack([[-curve.shape], curve.shape * (first - at)], axis=-1)
    return Quantity(best, deviation(curve, gradient), path, free=float(np.log(curve.shape)))
