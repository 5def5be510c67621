"""Profile-likelihood limits: the values of one quantity that the data do not contradict."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from wornby.curves.ascent import Summit, Values, chosen, climb
from wornby.curves.likelihood import WEIBULL, log_likelihood
from wornby.curves.log_ages import Array, Evidence
from wornby.errors import EstimateError

Path: TypeAlias = Callable[[Array, Array], tuple[Array, Array, Array]]

FARTHEST = 20.0
MOST_TRIALS = 60
CLOSE_ENOUGH = 1e-8


@dataclass(frozen=True, eq=False, slots=True)
class Quantity:
    """Something asked of a Weibull, on a scale without bounds, at the maximum of the likelihood.

    `best` (n,) holds the estimates and `std_err` (n,) their Wald standard errors. `path(value,
    free)` gives the parameter pairs (2n, 2) that hold the quantity at `value` (2n,: the lower
    ends, then the upper) as a free number moves, with their two derivatives in it; at the
    maximum it is `free`, and no climb starts below `least`.
    """

    best: Array
    std_err: Array
    path: Path
    free: float
    least: float


def along(known: Evidence, path: Path, value: Array) -> Callable[[Array], Values]:
    """The log-likelihood as the free number moves and the quantity is held at `value`."""

    def objective(free: Array) -> Values:
        with np.errstate(all="ignore"):
            theta, first, second = path(value, free[:, 0])
        height, gradient, hessian = log_likelihood(WEIBULL, known, theta)
        with np.errstate(all="ignore"):
            slope = (gradient * first).sum(-1, keepdims=True)
            bend = np.einsum("ni,nij,nj->n", first, hessian, first) + (gradient * second).sum(-1)
        return height, slope, bend[:, None, None]

    return objective


def profiled(known: Evidence, path: Path, *, value: Array, free: Array) -> Summit:
    """The highest likelihood with the quantity held at each value."""
    return climb(along(known, path, value), free)


@dataclass(frozen=True, eq=False, slots=True)
class Ends:
    """Where the limits are sought: one row for each quantity and side."""

    known: Evidence
    asked: Quantity
    peak: float
    root: float

    def excess(self, value: Array, free: Array) -> tuple[Array, Array]:
        """Signed distance past the limit on the root-deviance scale, and the free numbers."""
        start = np.maximum(free, self.asked.least)
        summit = profiled(self.known, self.asked.path, value=value, free=start)
        drop = np.maximum(self.peak - summit.value, 0.0)
        return np.sqrt(2 * drop) - self.root, summit.point


def bracketed(
    ends: Ends, best: Array, *, stride: Array, free: Array
) -> tuple[Array, Array, Array, Array, NDArray[np.bool_]]:
    """Stride away from the estimates, doubling, until each limit is passed or none is there."""
    inside, f_inside = best.copy(), np.full_like(best, -ends.root)
    outside = best + stride
    f_outside, free = ends.excess(outside, free)
    for _ in range(MOST_TRIALS):
        short = (f_outside < 0) & (np.abs(outside - best) < FARTHEST)
        if not short.any():
            break
        inside, f_inside = chosen(short, outside, inside), chosen(short, f_outside, f_inside)
        stride = np.where(short, 2 * stride, stride)
        outside = np.where(short, best + stride, outside)
        f_outside, free = ends.excess(outside, free)
    return inside, f_inside, outside, f_outside, f_outside >= 0


def limits(known: Evidence, peak: float, asked: Quantity, *, root: float) -> tuple[Array, Array]:
    """Lower and upper limits (n,) where twice the drop in log-likelihood is root squared.

    Infinite where the likelihood never drops that far. The root deviance is nearly straight in
    the quantity, so false position with halved weights (Illinois) ends in a few steps.
    """
    best, std_err = np.tile(asked.best, 2), np.tile(asked.std_err, 2)
    side = np.repeat([-1.0, 1.0], asked.best.size)
    ends = Ends(known, asked, peak, root)
    free = np.full((best.size, 1), asked.free)
    a, f_a, b, f_b, found = bracketed(ends, best, stride=side * root * std_err, free=free)
    for _ in range(MOST_TRIALS):
        if (np.abs(f_b)[found] < CLOSE_ENOUGH).all():
            break
        with np.errstate(all="ignore"):
            cut = np.where(found, b - f_b * (b - a) / (f_b - f_a), b)
        f_cut, free = ends.excess(np.where(np.isfinite(cut), cut, b), free)
        crossed = f_cut * f_b < 0
        a, f_a = np.where(crossed, b, a), np.where(crossed, f_b, f_a / 2)
        b, f_b = cut, f_cut
    if not (np.abs(f_b)[found] < CLOSE_ENOUGH).all():
        raise EstimateError("the limits of the profile likelihood were not found")
    lower, upper = np.split(np.where(found, b, side * np.inf), 2)
    return lower, upper
