"""Failures that come back: how many a vehicle gathers by each age.

A history is a frame of vehicle, age and failed: one row for each failure, and for each vehicle
one row with failed = false at the age at which its watch ended (an `entry` column, constant
within a vehicle, says where it began; nought without it). A vehicle is at risk over (entry,
end], its end included.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from wornby.curves.bands import check_confidence, hazard_limits
from wornby.curves.hazard_cells import Places
from wornby.curves.log_ages import Array
from wornby.errors import HistoryError

Variance: TypeAlias = Literal["robust", "nelson", "poisson"]
MOST_AT_ONCE = 4_000_000


@dataclass(frozen=True, eq=False, slots=True)
class MeanCumulative:
    """Mean number of failures a vehicle has gathered by each age.

    `table` has age, at_risk, failures, mean, std_err, lower, upper; limits are on the log scale.
    """

    table: pl.DataFrame
    n_vehicles: int
    confidence: float
    variance: Variance

    def mean(self, age: ArrayLike) -> Array:
        """Failures gathered by each age, on average."""
        steps = np.append(0.0, self.table["mean"].to_numpy())
        return np.asarray(steps[np.searchsorted(self.table["age"], age, side="right")])


WRONG_ROWS = {
    "no vehicle, age or failed": pl.any_horizontal(pl.col("vehicle", "age", "failed").is_null()),
    "an age is not a finite number": ~pl.all_horizontal(
        pl.col("age", "entry").cast(pl.Float64).is_finite().fill_null(False)
    ),
    "an age is negative": pl.min_horizontal("age", "entry") < 0,
    "its vehicle has another entry elsewhere": (
        pl.col("entry") != pl.col("entry").first().over("vehicle")
    ),
}


def check_rows(history: pl.DataFrame) -> None:
    """Name, in a HistoryError, the first row that no history can have."""
    for why, wrong in WRONG_ROWS.items():
        rows = history.filter(wrong)
        if rows.height:
            raise HistoryError(f"{why}: {rows.row(0, named=True)}")


def watches(history: pl.DataFrame) -> pl.DataFrame:
    """Each vehicle with its entry and end (n vehicles).

    HistoryError: a row without vehicle, age or failed, an age below nought or not finite, two
    entries of one vehicle, no end, an end before the entry, a failure outside the watch.
    """
    if "entry" not in history.columns:
        history = history.with_columns(entry=pl.lit(0.0))
    check_rows(history)
    by_vehicle = history.group_by("vehicle", maintain_order=True).agg(
        entry=pl.col("entry").first().cast(pl.Float64),
        end=pl.col("age").filter(~pl.col("failed")).max().cast(pl.Float64),
        first=pl.col("age").filter("failed").min(),
        last=pl.col("age").filter("failed").max(),
    )
    open_ended = by_vehicle.filter(pl.col("end").is_null())
    if open_ended.height:
        raise HistoryError(f"vehicle {open_ended['vehicle'][0]}: no row says when its watch ended")
    late = by_vehicle.filter((pl.col("end") < pl.col("entry")) & pl.col("last").is_null())
    if late.height:
        row = late.row(0, named=True)
        raise HistoryError(
            f"vehicle {row['vehicle']}: its watch ends at {row['end']:g}, before it begins at"
            f" {row['entry']:g}"
        )
    outside = by_vehicle.filter(
        (pl.col("last") > pl.col("end")) | (pl.col("first") <= pl.col("entry"))
    )
    if outside.height:
        row = outside.row(0, named=True)
        raise HistoryError(
            f"vehicle {row['vehicle']}: a failure outside its watch from {row['entry']:g}"
            f" to {row['end']:g}"
        )
    return by_vehicle


@dataclass(frozen=True, eq=False, slots=True)
class Gathered:
    """Failures by vehicle row and age column, each vehicle's watch, and totals by age."""

    ages: Array
    rows: Places
    columns: Places
    entry: Array
    end: Array
    at_risk: Array
    failures: Array

    def blocks(self) -> Iterator[tuple[Array, Array]]:
        """Failures (v, a) and whether at risk (v, a), for some vehicles at a time."""
        size = max(MOST_AT_ONCE // max(self.ages.size, 1), 1)
        for first in range(0, self.entry.size, size):
            part = slice(first, first + size)
            entry, end = self.entry[part, None], self.end[part, None]
            at_risk = ((entry < self.ages) & (self.ages <= end)).astype(np.float64)
            failures = np.zeros_like(at_risk)
            here = (self.rows >= first) & (self.rows < first + size)
            np.add.at(failures, (self.rows[here] - first, self.columns[here]), 1.0)
            yield failures, at_risk


def gathered(history: pl.DataFrame, watched: pl.DataFrame) -> Gathered:
    """Place each failure by vehicle and age, and count those at risk."""
    failed = history.filter("failed").join(
        watched.select("vehicle").with_row_index("row"), on="vehicle", how="left"
    )
    when = failed["age"].cast(pl.Float64).to_numpy()
    ages, columns = np.unique(when, return_inverse=True)
    entry, end = watched["entry"].to_numpy(), watched["end"].to_numpy()
    at_risk = np.searchsorted(np.sort(entry), ages) - np.searchsorted(np.sort(end), ages)
    failures = np.bincount(columns, minlength=ages.size).astype(np.float64)
    rows = failed["row"].cast(pl.Int64).to_numpy()
    return Gathered(ages, rows, columns, entry, end, at_risk.astype(np.float64), failures)


def variances(seen: Gathered, variance: Variance) -> Array:
    """Variance of the mean cumulative function at each age, by one of three rules.

    robust: squared sums by vehicle (Lawless & Nadeau 1995); nelson: moments with the number at
    risk less one (Nelson 2003, chapter 4); poisson: each failure on its own, for contrast.
    """
    n, d = seen.at_risk, seen.failures
    if variance == "poisson":
        return np.asarray(np.cumsum(d / n**2))
    if variance == "robust":
        moved = (np.cumsum(w * (f - d / n) / n, axis=1) for f, w in seen.blocks())
        return np.asarray(sum((one**2).sum(0) for one in moved), dtype=np.float64)
    common, product = np.zeros((2, n.size, n.size))
    for failures, at_risk in seen.blocks():
        residual = at_risk * (failures - d / n)
        common += at_risk.T @ at_risk
        product += residual.T @ residual
    share = common / np.maximum(common - 1, 1) / np.outer(n, n)
    return np.asarray(np.diag(np.cumsum(np.cumsum(product * share, 0), 1)))


def mean_cumulative_function(
    history: pl.DataFrame, *, confidence: float, variance: Variance = "robust"
) -> MeanCumulative:
    """Failures a vehicle gathers by each age, repeat failures counted (Nelson 1988).

    The robust variance lets failures of one vehicle depend on one another. Refuses as `watches`
    does. Without a failure the table is empty.

    >>> history = pl.DataFrame(
    ...     {
    ...         "vehicle": ["a", "a", "a", "b", "b"],
    ...         "age": [3.0, 6.0, 10.0, 4.0, 5.0],
    ...         "failed": [True, True, False, True, False],
    ...     }
    ... )
    >>> mean_cumulative_function(history, confidence=0.9).mean([3.0, 4.0, 6.0]).tolist()
    [0.5, 1.0, 2.0]
    """
    check_confidence(confidence)
    watched = watches(history)
    seen = gathered(history, watched)
    mean = np.asarray(np.cumsum(seen.failures / seen.at_risk))
    std_err = np.sqrt(variances(seen, variance)) if mean.size else mean
    lower, upper = hazard_limits(mean, std_err, confidence=confidence)
    table = pl.DataFrame(
        {
            "age": seen.ages,
            "at_risk": seen.at_risk,
            "failures": seen.failures,
            "mean": mean,
            "std_err": std_err,
            "lower": lower,
            "upper": upper,
        }
    )
    return MeanCumulative(table, watched.height, confidence, variance)
