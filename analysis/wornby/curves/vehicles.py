"""Lives by vehicle: parts of one vehicle are alike, so doubt is reckoned by vehicle.

A frame of lives has vehicle, entry, lower, upper and count, as `histories.counts` means them.
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.sparse import csr_array

from wornby.curves.lives import check_lives, vehicle_places
from wornby.curves.log_ages import Array
from wornby.errors import EstimateError
from wornby.histories.counts import Counts, on_unit
from wornby.tables import COUNTS

KEYS = ["entry", "lower", "upper"]


@dataclass(frozen=True, eq=False, slots=True)
class VehicleCounts:
    """Counts, and how many of each row belong to each vehicle: `lives` (vehicles, rows)."""

    counts: Counts
    lives: csr_array

    @property
    def n_vehicles(self) -> int:
        """How many vehicles."""
        return int(self.lives.shape[0])

    def n_failing(self) -> int:
        """How many vehicles have a failure."""
        _, _, upper, _ = self.counts.columns()
        return int((self.lives @ np.isfinite(upper).astype(np.float64) > 0).sum())

    def resampled(self, rng: np.random.Generator, n: int) -> Array:
        """Counts of each row (n, rows) when as many vehicles are drawn again with replacement."""
        size = self.n_vehicles
        drawn = rng.integers(size, size=(n, size)) + size * np.arange(n)[:, None]
        times = np.bincount(drawn.ravel(), minlength=n * size).reshape(n, size)
        return np.asarray(times @ self.lives, dtype=np.float64)


def counts_by_vehicle(lives: pl.DataFrame, *, unit: str, what: str, rule: str) -> VehicleCounts:
    """Distinct (entry, lower, upper), with the vehicles that have them.

    `lives` has vehicle, entry, lower, upper, count, ages in `unit`. EstimateError: no lives, one
    that cannot be, or one without its vehicle.

    >>> lives = pl.DataFrame(
    ...     {
    ...         "vehicle": ["a", "a", "b"],
    ...         "entry": 0.0,
    ...         "lower": [4.0, 6.0, 4.0],
    ...         "upper": [4.0, float("inf"), 4.0],
    ...         "count": 1.0,
    ...     }
    ... )
    >>> by = counts_by_vehicle(lives, unit="years", what="bush", rule="as watched")
    >>> by.n_vehicles, by.counts.table.height, by.lives.toarray().tolist()
    (2, 2, [[1.0, 1.0], [1.0, 0.0]])
    """
    if not lives.height:
        raise EstimateError(f"{what}: no lives to resample")
    check_lives(lives, what)
    counted = lives.group_by(KEYS).agg(pl.col("count").sum()).sort(KEYS)
    counts = Counts(COUNTS.shape(counted), unit=unit, what=what, rule=rule)
    placed = lives.join(counted.select(KEYS).with_row_index("column"), on=KEYS, how="left")
    rows, columns = vehicle_places(placed["vehicle"]), placed["column"].to_numpy()
    shape = (int(rows.max()) + 1, counted.height)
    return VehicleCounts(counts, csr_array((placed["count"].to_numpy(), (rows, columns)), shape))


def episodes_by_vehicle(
    episodes: pl.DataFrame, *, unit: str, what: str, rule: str
) -> VehicleCounts:
    """Episodes (see `tables.EPISODES`) in years, or in miles or kilometres, by vehicle.

    ValueError: a unit that is none of them. EstimateError: nothing watched on it.

    >>> seals = pl.DataFrame(
    ...     {"vehicle": list("aab"), "exit_days": [1461, 2922, 1461], "failed": [True, False, True]}
    ... ).with_columns(entry_days=0, weight=1.0)
    >>> by = episodes_by_vehicle(seals, unit="years", what="seal", rule="as watched")
    >>> by.n_vehicles, by.counts.table.rows()
    (2, [(0.0, 4.0, 4.0, 2.0), (0.0, 8.0, inf, 1.0)])
    """
    entry, end = on_unit("entry", unit), on_unit("exit", unit)
    lives = episodes.select("vehicle", "failed", entry=entry, lower=end, count="weight")
    watched = lives.drop_nulls().filter(pl.col("lower") > pl.col("entry"))
    upper = pl.when("failed").then("lower").otherwise(float("inf"))
    return counts_by_vehicle(watched.with_columns(upper=upper), unit=unit, what=what, rule=rule)
