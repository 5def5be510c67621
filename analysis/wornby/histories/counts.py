"""From episodes to counts: how many lives share each (entry, lower, upper)."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.errors import EstimateError
from wornby.tables import COUNTS

DAYS_PER_YEAR = 365.25


@dataclass(frozen=True, eq=False, slots=True)
class Counts:
    """Distinct lives and how often each was seen; what every estimator takes.

    `table` has entry, lower, upper, count (see `tables.COUNTS`), in `unit`. A life is known to
    have ended in (lower, upper]; lower = upper says exactly when, upper = inf that it was
    still in service at lower. Watching began at entry. `rule` says how the episodes were made.
    """

    table: pl.DataFrame
    unit: str
    what: str
    rule: str

    def __post_init__(self) -> None:
        """Refuse what no life can be."""
        check_counts(self.table, self.what)

    def columns(self) -> tuple[NDArray[np.float64], ...]:
        """Entry, lower, upper and count as arrays of one length."""
        return tuple(self.table[name].to_numpy() for name in COUNTS.columns)

    @property
    def n_lives(self) -> float:
        """How many lives in all."""
        return float(self.table["count"].sum())

    @property
    def n_failures(self) -> float:
        """How many of them were seen to end, exactly or within bounds."""
        return float(self.table.filter(pl.col("upper").is_finite())["count"].sum())


IMPOSSIBLE = {
    "an age is missing or not a number": (
        pl.any_horizontal(pl.col("entry", "lower", "upper", "count").is_null())
        | pl.any_horizontal(pl.col("entry", "lower", "upper", "count").is_nan())
    ),
    "an age is negative": pl.min_horizontal("entry", "lower", "upper") < 0,
    "an entry or exit is not finite": ~pl.all_horizontal(pl.col("entry", "lower").is_finite()),
    "the watch ends before it begins": pl.col("lower") < pl.col("entry"),
    "the upper bound lies below the lower": pl.col("upper") < pl.col("lower"),
    "a life ends at the moment watching begins": (
        (pl.col("upper") == pl.col("lower")) & (pl.col("lower") == pl.col("entry"))
    ),
    "a count is not positive": pl.col("count") <= 0,
}


def check_counts(table: pl.DataFrame, what: str) -> None:
    """Name the first row that no life can have."""
    COUNTS.shape(table)
    for why, broken in IMPOSSIBLE.items():
        rows = table.with_row_index("row").filter(broken)
        if rows.height:
            raise EstimateError(f"{what}: {why}: {rows.row(0, named=True)}")
