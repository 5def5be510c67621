"""The highest likelihood over hazards in cells: Newton steps on the few cells that carry any.

The log-likelihood is concave in the hazards (see `hazard_cells`). Each round adds, between
neighbours that carry a hazard, the cell whose gradient is highest, and solves a quadratic
model under the bounds (the constrained Newton method of Wang 2008, on hazards in place of
chances, so that delayed entry stays concave).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from wornby.curves.hazard_cells import Cells, Places
from wornby.curves.log_ages import Array, without_rounding

ENDLESS = 60.0  # a hazard that leaves one in 1e26
MOST_ROUNDS = 200
SMALLEST_VIOLATION = 1e-12
RIDGE = 1e-10
MOST_EMPTIED = 20
MOST_HALVINGS = 30


@dataclass(frozen=True, eq=False, slots=True)
class Problem:
    """The likelihood of hazards in cells: who was at risk, and which ranges hold a failure.

    Cells that are not `bounded` take an endless hazard; `certain` marks the ranges that hold one.
    """

    at_risk: Array
    start: Places
    end: Places
    count: Array
    bounded: NDArray[np.bool_]
    certain: NDArray[np.bool_]

    def gathered(self, hazard: Array) -> Array:
        """Hazard gathered over each failure's range of cells.

        Endless hazards stay out of the running total, which would lose the small ones to rounding.
        """
        total = np.append(0.0, np.cumsum(np.where(self.bounded, hazard, 0.0)))
        over = np.where(
            self.end == self.start + 1, hazard[self.start], total[self.end] - total[self.start]
        )
        return np.where(self.certain, ENDLESS, over)

    def value(self, hazard: Array) -> float:
        """The log-likelihood."""
        with np.errstate(divide="ignore"):
            ended = np.log(-np.expm1(-self.gathered(hazard)))
        return float((self.count * ended).sum() - (self.at_risk * hazard)[self.bounded].sum())

    def gradient(self, hazard: Array) -> Array:
        """Rise of the log-likelihood with each cell's hazard."""
        pull = self.count / np.expm1(self.gathered(hazard))
        return spread(pull, self.start, self.end, n=hazard.size) - self.at_risk


def spread(weight: Array, start: Places, end: Places, *, n: int) -> Array:
    """Sum each weight over the cells of its range."""
    change = np.bincount(start, weight, n + 1) - np.bincount(end, weight, n + 1)
    return np.asarray(np.cumsum(change)[:n])


def problem(grid: Cells) -> Problem:
    """What the cells ask; cells past which nobody was seen alive take an endless hazard."""
    n = grid.left.size
    at_risk = spread(grid.count, grid.entered, grid.alive, n=n)
    at_risk = without_rounding(at_risk, grid.count)
    ended, bounded = grid.ended, at_risk > 0
    start, end = grid.alive[ended], grid.failed[ended]
    endless = np.append(0, np.cumsum(~bounded))
    certain = endless[end] > endless[start]
    return Problem(at_risk, start, end, grid.count[ended], bounded, certain)


def pierced(asked: Problem) -> Array:
    """A first guess: few cells that between them lie in every failure's range."""
    hazard = np.where(asked.bounded, 0.0, ENDLESS)
    open_ranges = np.flatnonzero(~asked.certain)
    last, held = -1, np.zeros(hazard.size)
    for row in open_ranges[np.argsort(asked.end[open_ranges])]:
        last = last if asked.start[row] <= last else int(asked.end[row]) - 1
        held[last] += asked.count[row]
    return np.where(held > 0, held / np.maximum(held + asked.at_risk, 1e-9), hazard)


def highest_between(gradient: Array, carrying: Places) -> Places:
    """In each gap between cells that carry a hazard, the cell of the highest positive gradient."""
    gap = np.searchsorted(carrying, np.arange(gradient.size), side="right")
    order = np.lexsort((gradient, gap))
    tops = order[np.flatnonzero(np.append(np.diff(gap[order]), 1))]
    return np.asarray(tops[gradient[tops] > 0])


@dataclass(frozen=True, eq=False, slots=True)
class Model:
    """The likelihood near a point, in hazard gathered up to each end of a carrying cell.

    Pairs of ends with their curvature, and the pull that balances it at the model's maximum.
    """

    start: Places
    end: Places
    bend: Array
    pull: Array

    def maximum(self, kept: NDArray[np.bool_]) -> Array:
        """The hazards of the kept cells where the model is highest, others being nought."""
        n = int(kept.sum())
        place = np.append(0, np.cumsum(kept))
        row, column = place[self.start], place[self.end]
        rows = np.concatenate([row, column, row, column])
        columns = np.concatenate([row, column, column, row])
        bends = np.concatenate([self.bend, self.bend, -self.bend, -self.bend])
        matrix = csc_array((bends, (rows, columns)), shape=(n + 1, n + 1))[1:, 1:]
        pull = np.bincount(place, self.pull, n + 1)[1:]
        gathered = splu(csc_array(matrix)).solve(pull)
        return np.diff(np.asarray(gathered, dtype=np.float64), prepend=0.0)


def local_model(asked: Problem, hazard: Array, *, gradient: Array, carrying: Places) -> Model:
    """The quadratic model at a point, with a faint pull to stay where the data do not mind."""
    gathered = asked.gathered(hazard)
    bend = asked.count * np.exp(gathered) / np.expm1(gathered) ** 2
    start, end = (np.searchsorted(carrying, bound) for bound in (asked.start, asked.end))
    ridge = RIDGE * spread(bend, start, end, n=carrying.size)
    chain = np.arange(carrying.size)
    start, end = np.concatenate([start, chain]), np.concatenate([end, chain + 1])
    bend = np.concatenate([bend, ridge])
    total = np.append(0.0, np.cumsum(hazard[carrying]))
    stretch = bend * (total[end] - total[start])
    pull = np.bincount(end, stretch, total.size) - np.bincount(start, stretch, total.size)
    balance = np.diff(np.append(gradient[carrying], 0.0), prepend=0.0)
    return Model(start, end, bend, np.asarray(pull - balance, dtype=np.float64))


def model_step(asked: Problem, hazard: Array, gradient: Array) -> Array:
    """From the carrying cells to the model's maximum, cells that would go below nought emptied."""
    carrying = np.flatnonzero((hazard > 0) & asked.bounded)
    new = highest_between(np.where(asked.bounded, gradient, 0.0), carrying)
    carrying = np.union1d(carrying, new)
    model = local_model(asked, hazard, gradient=gradient, carrying=carrying)
    kept, target = np.ones(carrying.size, dtype=bool), np.zeros(carrying.size)
    for _ in range(MOST_EMPTIED):
        target[:] = 0.0
        target[kept] = model.maximum(kept)
        if not (target < 0).any():
            break
        kept &= target >= 0
    step = np.zeros_like(hazard)
    step[carrying] = np.maximum(target, 0.0) - hazard[carrying]
    return step


def self_consistent(asked: Problem, hazard: Array) -> Array:
    """One step of Turnbull's self-consistency (1976), which never lowers the likelihood."""
    alive = np.exp(-np.append(0.0, np.cumsum(hazard)))
    chance = alive[asked.start] - alive[asked.end]
    n = hazard.size
    weight = spread(asked.count / chance, asked.start, asked.end, n=n)
    lived = spread(asked.count * alive[asked.end] / chance, asked.start, asked.end, n=n)
    failed = alive[:-1] * -np.expm1(-hazard) * weight
    at_risk = np.maximum(asked.at_risk + alive[:-1] * weight - lived, failed + 1e-300)
    share = np.where(asked.bounded, failed / at_risk, 0.0)
    return np.where(asked.bounded, -np.log1p(-np.minimum(share, 1 - 1e-16)), hazard)


def climbed(asked: Problem, hazard: Array) -> Array:
    """One round: the model's step, halved until the likelihood rises, or else self-consistency."""
    gradient = asked.gradient(hazard)
    step = model_step(asked, hazard, gradient)
    floor, rise = asked.value(hazard), float(gradient[asked.bounded] @ step[asked.bounded])
    for _ in range(MOST_HALVINGS if rise > 0 else 0):
        trial = hazard + step
        if asked.value(trial) >= floor + 1e-4 * rise - 1e-13 * abs(floor):
            return trial
        step, rise = step / 2, rise / 2
    return self_consistent(asked, hazard)


def violation(asked: Problem, hazard: Array) -> float:
    """How far the optimality conditions are broken, for each failure.

    A hazard's gradient is at most nought, and is nought where the hazard is not.
    """
    gradient = asked.gradient(hazard)[asked.bounded]
    slack = np.where(hazard[asked.bounded] > 0, np.abs(gradient), np.maximum(gradient, 0.0))
    return float(slack.max(initial=0.0) / max(asked.count.sum(), 1e-300))


def highest(asked: Problem) -> tuple[Array, float]:
    """Hazards of the highest likelihood, with their largest violation of optimality."""
    hazard = pierced(asked)
    broken = violation(asked, hazard)
    for _ in range(MOST_ROUNDS):
        if broken < SMALLEST_VIOLATION:
            break
        trial = climbed(asked, hazard)
        now = violation(asked, trial)
        if now >= broken and asked.value(trial) <= asked.value(hazard):
            break
        hazard, broken = trial, now
    return np.where(asked.bounded, hazard, np.inf), broken
