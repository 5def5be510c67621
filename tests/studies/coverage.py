"""How often 90 % intervals hold the truth: simulated lives of known shape and scale.

Run as a script it writes coverage.csv beside itself, a thousand data sets in each cell: lives,
failures expected, shape, late entry, looks between which failures fall. `fitted` is the share of
data sets that can be fitted at all, `held` the share of those whose profile interval holds the
truth. `held_posterior` is the share of all whose credible interval under the stated prior for
car components does, and `held_given` that of the interval which a report gives: the profile one
from five failures on where there is a fit, else the credible one.
"""

import os
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import product
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.optimize import brentq

from wornby.curves.components import ENOUGH_FAILURES
from wornby.curves.few_failures import WeibullPosterior, weibull_posterior
from wornby.curves.parametric import WeibullCurve, weibull
from wornby.curves.profile import b_life, chance_within
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import Counts
from wornby.reports.trial_answers import TRIALS

SCALE, LATEST_ENTRY, CONFIDENCE = 10.0, 4.0, 0.9
AGE, HORIZON = 6.0, 1.0


@dataclass(frozen=True, slots=True)
class Cell:
    """One kind of record."""

    lives: int
    failures: int
    shape: float
    late: bool
    looks: bool

    def truths(self) -> tuple[float, float]:
        """B10 life, and the chance within a year at six."""
        life = SCALE * (-np.log(0.9)) ** (1 / self.shape)
        end, start = ((AGE + HORIZON) / SCALE) ** self.shape, (AGE / SCALE) ** self.shape
        return float(life), float(-np.expm1(start - end))

    def watch(self) -> float:
        """How long each life must be watched for so many failures to be expected."""
        entry = np.linspace(0, LATEST_ENTRY, 101) if self.late else np.zeros(1)
        alive = (entry / SCALE) ** self.shape

        def excess(length: float) -> float:
            gathered = ((entry + length) / SCALE) ** self.shape - alive
            return float(-np.expm1(-gathered).mean() * self.lives - self.failures)

        return float(brentq(excess, 1e-6, 1e4))


CELLS = [
    Cell(*cell)
    for cell in product(
        (30, 100, 1000), (5, 20, 100), (0.8, 2.0, 4.0), (False, True), (False, True)
    )
    if cell[1] <= 0.8 * cell[0]
]


def lives(cell: Cell, watch: float, rng: np.random.Generator) -> Counts:
    """Lives still running at entry, watched for as long, failures to the day or between looks."""
    entry = rng.uniform(0, LATEST_ENTRY, cell.lives) if cell.late else np.zeros(cell.lives)
    gathered = (entry / SCALE) ** cell.shape + rng.exponential(size=cell.lives)
    life, stop = SCALE * gathered ** (1 / cell.shape), entry + watch
    end = np.minimum(life, stop)
    lower, upper = end, np.where(life > stop, np.inf, end)
    if cell.looks:
        lower, upper = between_looks(entry, life, stop, rng)
    table = pl.DataFrame({"entry": entry, "lower": lower, "upper": upper, "count": 1.0})
    return Counts(table, unit="years", what="simulated", rule="as watched")


def between_looks(
    entry: NDArray[np.float64],
    life: NDArray[np.float64],
    stop: NDArray[np.float64],
    rng: np.random.Generator,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Eight looks over each watch, the last at its end, the first at a random part of a gap."""
    gap = (stop - entry) / 8
    phase = rng.uniform(size=entry.size)
    done = np.floor((life - entry) / gap + phase)
    lower = np.clip(entry + (done - phase) * gap, entry, stop)
    upper = np.minimum(entry + (done + 1 - phase) * gap, stop)
    return lower, np.where(life > stop, np.inf, upper)


def holds(estimate: Estimate, truth: float) -> bool:
    """Whether the interval holds the truth."""
    assert estimate.lower is not None
    assert estimate.upper is not None
    return estimate.lower <= truth <= estimate.upper


def asked(curve: WeibullCurve | WeibullPosterior, truths: tuple[float, float]) -> NDArray[np.bool_]:
    """Whether the intervals of the B10 life and of the year's chance hold."""
    if isinstance(curve, WeibullPosterior):
        life = curve.b_life(0.1, confidence=CONFIDENCE)
        chance = curve.chance_within(age=AGE, horizon=HORIZON, confidence=CONFIDENCE)
    else:
        life = b_life(curve, 0.1, confidence=CONFIDENCE)
        chance = chance_within(curve, age=AGE, horizon=HORIZON, confidence=CONFIDENCE)
    return np.array([holds(life, truths[0]), holds(chance, truths[1])])


@dataclass(frozen=True, eq=False, slots=True)
class Judged:
    """Whether the intervals of one data set hold; `profile` is None without a fit."""

    profile: NDArray[np.bool_] | None
    credible: NDArray[np.bool_]
    given: NDArray[np.bool_]


def judged(counts: Counts, truths: tuple[float, float]) -> Judged:
    """Each kind of interval of one data set."""
    credible = asked(weibull_posterior(counts, prior=CAR_COMPONENT), truths)
    try:
        profile = asked(weibull(counts), truths)
    except EstimateError:
        return Judged(None, credible, credible)
    enough = counts.n_failures >= ENOUGH_FAILURES
    return Judged(profile, credible, profile if enough else credible)


def coverage(cell: Cell, *, n: int, rng: np.random.Generator) -> Iterator[dict[str, object]]:
    """Two rows: how often the intervals of the B10 life and of the year's chance held."""
    watch, truths = cell.watch(), cell.truths()
    found = [judged(lives(cell, watch, rng), truths) for _ in range(n)]
    fitted = [one.profile for one in found if one.profile is not None]
    for i, quantity in enumerate(("B10 life", "chance within 12 months at 6")):
        yield {
            "lives": cell.lives,
            "failures": cell.failures,
            "shape": cell.shape,
            "late_entry": cell.late,
            "looks": cell.looks,
            "quantity": quantity,
            "data_sets": n,
            "fitted": len(fitted) / n,
            "held": float(np.mean([profile[i] for profile in fitted])) if fitted else None,
            "held_posterior": float(np.mean([one.credible[i] for one in found])),
            "held_given": float(np.mean([one.given[i] for one in found])),
        }


def cell_rows(cell: Cell, n: int, stream: np.random.SeedSequence) -> list[dict[str, object]]:
    """The rows of one cell, for a process of its own."""
    return list(coverage(cell, n=n, rng=np.random.default_rng(stream)))


def study(cells: list[Cell], *, n: int, seed: int, processes: int) -> pl.DataFrame:
    """Every cell with a random stream of its own, so that the order of work does not matter."""
    streams = np.random.SeedSequence(seed).spawn(len(cells))
    # spawned, not forked: polars' threads do not survive a fork
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        rows = list(pool.map(cell_rows, cells, [n] * len(cells), streams))
    return pl.DataFrame([row for part in rows for row in part])


def trial(table: pl.DataFrame) -> pl.DataFrame:
    """The table by failures and shape, as the analyst's report tells it."""
    held = ("held", "held_posterior", "held_given")
    told = table.group_by("failures", "shape", maintain_order=True).agg(
        pl.col("data_sets").sum() // 2,
        pl.col("fitted").mean(),
        pl.col(*held).mean(),
        pl.col(*held).min().name.suffix("_least"),
        pl.col(*held).max().name.suffix("_most"),
    )
    numbers = pl.exclude("failures", "shape", "data_sets").round(4)
    return told.sort("failures", "shape").with_columns(numbers)


if __name__ == "__main__":
    per_cell = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    table = study(CELLS, n=per_cell, seed=20, processes=os.cpu_count() or 1)
    table.write_csv(Path(__file__).parent / "coverage.csv", float_precision=4)
    trial(table).write_csv(Path(str(TRIALS)) / "coverage.csv")
