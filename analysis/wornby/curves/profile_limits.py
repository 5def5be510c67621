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

FARTHEST = 40.0
MOST_TRIALS = 60
CLOSE_ENOUGH = 1e-8
NARROW = 1e-12
SAME = 1e-5


@dataclass(frozen=True, eq=False, slots=True)
class Quantity:
    """Something asked of a Weibull, on a scale without bounds, at the maximum of the likelihood.

    `best` (n,) holds the estimates and `std_err` (n,) their Wald standard errors. `path(value,
    free)` gives the parameter pairs (kn, 2) that hold the quantities, in turn, at `value` (kn,)
    as a free number moves, with their two derivatives in it. At the
    maximum it is `free`; climbs start there, at `others` besides, and never below `least`.
    Values are sought from `lowest` to `highest`; a limit that is not reached there is infinite.
    """

    best: Array
    std_err: Array
    path: Path
    free: float
    others: tuple[float, ...] = ()
    least: float = -np.inf
    lowest: float = -np.inf
    highest: float = np.inf


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
    """Where the limits are sought: one row for each quantity and side.

    Each climb starts from where the last one ended, and from `places` besides.
    """

    known: Evidence
    asked: Quantity
    peak: float
    root: float
    places: tuple[float, ...]

    def excess(self, value: Array, free: Array) -> tuple[Array, Array]:
        """Signed distance past the limit on the root-deviance scale, and the free numbers.

        The highest of the climbs counts.
        """
        asked = self.asked
        places = [free, *(np.full_like(free, place) for place in self.places)]
        start = np.maximum(np.concatenate(places), asked.least)
        summit = profiled(self.known, asked.path, value=np.tile(value, len(places)), free=start)
        heights = summit.value.reshape(len(places), -1)
        best = heights.argmax(0), np.arange(value.size)
        drop = np.maximum(self.peak - heights[best], 0.0)
        return np.sqrt(2 * drop) - self.root, summit.point.reshape(len(places), -1)[best][:, None]


def bracketed(ends: Ends, best: Array, *, stride: Array, free: Array) -> "Bracket":
    """Stride away from the estimates, doubling, until each limit is passed or none is there."""
    asked = ends.asked

    def reached(stride: Array) -> Array:
        far = np.clip(stride, -FARTHEST, FARTHEST)
        return np.asarray(np.clip(best + far, asked.lowest, asked.highest))

    inside, f_inside = best.copy(), np.full_like(best, -ends.root)
    outside = reached(stride)
    f_outside, free = ends.excess(outside, free)
    for _ in range(MOST_TRIALS):
        short = (f_outside < 0) & (reached(2 * stride) != outside)
        if not short.any():
            break
        inside, f_inside = chosen(short, outside, inside), chosen(short, f_outside, f_inside)
        stride = np.where(short, 2 * stride, stride)
        outside = np.where(short, reached(stride), outside)
        f_outside, free = ends.excess(outside, free)
    return Bracket(inside, f_inside, outside, f_outside, free, f_outside < 0)


@dataclass(frozen=True, eq=False, slots=True)
class Bracket:
    """A value that the data do not contradict and one that they do, with their excesses."""

    inside: Array
    f_inside: Array
    outside: Array
    f_outside: Array
    free: Array
    short: NDArray[np.bool_]

    def cut(self, *, halve: bool) -> Array:
        """Where the line between the two ends is nought, or halfway."""
        middle = (self.inside + self.outside) / 2
        with np.errstate(all="ignore"):
            share = self.f_outside / (self.f_outside - self.f_inside)
            straight = self.outside - share * (self.outside - self.inside)
        return np.asarray(np.where(halve | ~np.isfinite(straight), middle, straight))

    def narrowed(self, cut: Array, f_cut: Array, free: Array) -> "Bracket":
        """With the cut as one end; an end that stays a second time counts half (Illinois)."""
        short = f_cut < 0
        weight = np.where(short == self.short, 0.5, 1.0)
        return Bracket(
            np.where(short, cut, self.inside),
            np.where(short, f_cut, weight * self.f_inside),
            np.where(short, self.outside, cut),
            np.where(short, weight * self.f_outside, f_cut),
            free,
            short,
        )


def sought(ends: Ends, best: Array, *, stride: Array) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Limits, the free numbers there, and which were found (an endless one counts as found).

    The root deviance is nearly straight in the quantity, so false position ends in a few steps;
    every fourth halves the bracket, for where it bends.
    """
    start = np.full((best.size, 1), ends.asked.free)
    bracket = bracketed(ends, best, stride=stride, free=start)
    endless = bracket.f_outside < 0
    limit = np.where(endless, np.sign(stride) * np.inf, bracket.outside)
    free, settled = bracket.free, endless | (bracket.f_outside < CLOSE_ENOUGH)
    for trial in range(1, MOST_TRIALS):
        if settled.all():
            break
        cut = bracket.cut(halve=trial % 4 == 0)
        f_cut, free_cut = ends.excess(cut, bracket.free)
        bracket = bracket.narrowed(cut, f_cut, free_cut)
        limit, free = chosen(settled, limit, cut), chosen(settled, free, free_cut)
        narrow = np.abs(bracket.outside - bracket.inside) < NARROW * (1 + np.abs(cut))
        settled = settled | (np.abs(f_cut) < CLOSE_ENOUGH) | narrow
    return limit, free, settled


def limits(known: Evidence, peak: float, asked: Quantity, *, root: float) -> tuple[Array, Array]:
    """Lower and upper limits (n,) where twice the drop in log-likelihood is root squared.

    Infinite where the likelihood never drops that far; EstimateError where they were not found.
    With late entry the likelihood may have two tops along the free number, one far down: where a
    climb from elsewhere ends higher, all is sought again with such climbs at each step.
    """
    best, std_err = np.tile(asked.best, 2), np.tile(asked.std_err, 2)
    stride = np.repeat([-1.0, 1.0], asked.best.size) * root * std_err
    everywhere = Ends(known, asked, peak, root, (asked.free, *asked.others))
    limit, free, settled = sought(Ends(known, asked, peak, root, ()), best, stride=stride)
    ended = np.isfinite(limit)
    again, _ = everywhere.excess(np.where(ended, limit, best), free)
    if not (settled & (~ended | (np.abs(again) < SAME))).all():
        limit, _, settled = sought(everywhere, best, stride=stride)
    if not settled.all():
        raise EstimateError("the limits of the profile likelihood were not found")
    lower, upper = np.split(limit, 2)
    return lower, upper
