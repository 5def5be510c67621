"""Failures that come back: how many a vehicle gathers by each age.

A history is a frame of vehicle, age and failed: one row for each failure, and for each vehicle
one row with failed = false at the age at which its watch ended (an `entry` column, constant
within a vehicle, says where it began; nought without it). A vehicle is at risk over (entry,
end], its end included.
"""

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from wornby.curves.bands import check_confidence, hazard_limits
from wornby.curves.log_ages import Array
from wornby.errors import HistoryError

Variance: TypeAlias = Literal["robust", "nelson", "poisson"]


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


def watches(history: pl.DataFrame) -> pl.DataFrame:
    """Each vehicle with its entry and end; refuses a failure outside its watch."""
    if "entry" not in history.columns:
        history = history.with_columns(entry=pl.lit(0.0))
    by_vehicle = history.group_by("vehicle", maintain_order=True).agg(
        entry=pl.col("entry").first().cast(pl.Float64),
        end=pl.col("age").filter(~pl.col("failed")).max().cast(pl.Float64),
        first=pl.col("age").filter("failed").min(),
        last=pl.col("age").filter("failed").max(),
    )
    open_ended = by_vehicle.filter(pl.col("end").is_null())
    if open_ended.height:
        raise HistoryError(f"vehicle {open_ended['vehicle'][0]}: no row says when its watch ended")
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


def deviations(history: pl.DataFrame, watched: pl.DataFrame, ages: Array) -> tuple[Array, Array]:
    """Failures (v, a) of each vehicle at each age, and whether it was at risk (v, a)."""
    place = {vehicle: row for row, vehicle in enumerate(watched["vehicle"])}
    failed = history.filter("failed")
    rows = np.array([place[vehicle] for vehicle in failed["vehicle"]], dtype=np.int64)
    columns = np.searchsorted(ages, failed["age"].to_numpy().astype(np.float64))
    failures = np.zeros((watched.height, ages.size))
    np.add.at(failures, (rows, columns), 1.0)
    entry, end = watched["entry"].to_numpy()[:, None], watched["end"].to_numpy()[:, None]
    return failures, ((entry < ages) & (ages <= end)).astype(np.float64)


def variances(failures: Array, at_risk: Array, variance: Variance) -> Array:
    """Variance of the mean cumulative function at each age, by one of three rules.

    robust: squared sums by vehicle (Lawless & Nadeau 1995); nelson: moments with the number at
    risk less one (Nelson 2003, chapter 4); poisson: each failure on its own, for contrast.
    """
    n = at_risk.sum(0)
    rise = failures.sum(0) / n
    if variance == "poisson":
        return np.asarray(np.cumsum(failures.sum(0) / n**2))
    residual = at_risk * (failures - rise)
    if variance == "robust":
        return np.asarray((np.cumsum(residual / n, axis=1) ** 2).sum(0))
    common = at_risk.T @ at_risk
    share = common / np.maximum(common - 1, 1) / np.outer(n, n)
    return np.asarray(np.diag(np.cumsum(np.cumsum(residual.T @ residual * share, 0), 1)))


def mean_cumulative_function(
    history: pl.DataFrame, *, confidence: float, variance: Variance = "robust"
) -> MeanCumulative:
    """Failures a vehicle gathers by each age, repeat failures counted (Nelson 1988).

    The robust variance lets failures of one vehicle depend on one another.

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
    ages = np.unique(history.filter("failed")["age"].to_numpy().astype(np.float64))
    failures, at_risk = deviations(history, watched, ages)
    mean = np.asarray(np.cumsum(failures.sum(0) / at_risk.sum(0)))
    std_err = np.sqrt(variances(failures, at_risk, variance))
    lower, upper = hazard_limits(mean, std_err, confidence=confidence)
    table = pl.DataFrame(
        {
            "age": ages,
            "at_risk": at_risk.sum(0),
            "failures": failures.sum(0),
            "mean": mean,
            "std_err": std_err,
            "lower": lower,
            "upper": upper,
        }
    )
    return MeanCumulative(table, watched.height, confidence, variance)
