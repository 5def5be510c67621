"""Survival when failures are known only within bounds, without assuming a form: Turnbull."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from wornby.curves.cell_ascent import ENDLESS, Problem, highest, problem
from wornby.curves.hazard_cells import Cells, cells
from wornby.curves.log_ages import Array
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

FAINTEST = 1e-13


@dataclass(frozen=True, eq=False, slots=True)
class TurnbullCurve:
    """The survival curve of highest likelihood, given that `begins_at` was reached.

    `table` has left, right, mass, survival: `mass` of the parts failed somewhere in (left,
    right] (exactly at it where they are equal), leaving `survival`; the data do not say where
    within. A last row with infinite right end holds those that outlived the watch.
    `violation` is the largest breach of the optimality conditions for each failure: the fit is
    a proven maximum up to it.
    """

    table: pl.DataFrame
    log_likelihood: float
    violation: float
    begins_at: float
    note: str
    counts: Counts

    def survival(self, age: ArrayLike) -> Array:
        """Chance of still running, each fall taken as late as the data allow."""
        return self._steps("right", age)

    def survival_early(self, age: ArrayLike) -> Array:
        """Chance of still running, each fall taken as early as the data allow."""
        return self._steps("left", age)

    def _steps(self, end: str, age: ArrayLike) -> Array:
        """Survival with the falls placed at one end of their cells."""
        fallen = self.table.filter(pl.col("right").is_finite())
        steps = np.append(1.0, fallen["survival"].to_numpy())
        return np.asarray(steps[np.searchsorted(fallen[end], age, side="right")])


def fullest_stretch(asked: Problem, hazard: Array) -> int:
    """The first cell of the stretch, between cells where all at risk failed, with most failures."""
    endless = np.flatnonzero(np.isinf(hazard))
    stretch = np.searchsorted(endless, asked.start)
    if not stretch.size:
        return 0
    fullest = int(np.argmax(np.bincount(stretch, asked.count)))
    return int(endless[fullest - 1]) + 1 if fullest else 0


def fall_table(grid: Cells, hazard: Array, last_seen: float) -> pl.DataFrame:
    """Cells that carry mass, and what outlived the watch."""
    alive = np.exp(-np.append(0.0, np.cumsum(hazard)))
    mass = -np.diff(alive)
    shown = mass > FAINTEST
    left, right = grid.left[shown], grid.right[shown]
    mass, survival = mass[shown], alive[1:][shown]
    if alive[-1] > FAINTEST:
        left, right = np.append(left, last_seen), np.append(right, np.inf)
        mass, survival = np.append(mass, alive[-1]), np.append(survival, 0.0)
    return pl.DataFrame({"left": left, "right": right, "mass": mass, "survival": survival})


def turnbull(counts: Counts) -> TurnbullCurve:
    """Survival of highest likelihood from bounds, delayed entry and counts (Turnbull 1976).

    Takes exact failures and lives in service too; with only those it is Kaplan-Meier. Where all
    at risk failed early and others followed, the curve begins after that, and the note says so.
    EstimateError: no lives.

    >>> import polars as pl
    >>> table = pl.DataFrame(
    ...     {
    ...         "entry": [0.0, 0.0, 0.0, 1.0],
    ...         "lower": [0.0, 1.0, 2.0, 2.0],
    ...         "upper": [1.0, 2.0, float("inf"), 3.0],
    ...         "count": [1.0, 2.0, 5.0, 2.0],
    ...     }
    ... )
    >>> hoses = Counts(table, unit="years", what="hose", rule="as inspected")
    >>> turnbull(hoses).survival([1.0, 2.0]).round(3).tolist()
    [0.875, 0.681]
    """
    if not counts.table.height:
        raise EstimateError(f"{counts.what}: no lives to follow")
    grid = cells(counts)
    asked = problem(grid)
    hazard, broken = highest(asked)
    likelihood = asked.value(np.minimum(hazard, ENDLESS))

    first = fullest_stretch(asked, hazard)
    begins_at = float(grid.right[first - 1]) if first else 0.0
    note = f"survival is given that {begins_at:g} {counts.unit} were reached" if first else ""
    hazard = np.where(np.arange(hazard.size) < first, 0.0, hazard)
    _, lower, _, _ = counts.columns()
    table = fall_table(grid, hazard, float(lower.max()))
    return TurnbullCurve(table, likelihood, broken, begins_at, note, counts)
