"""From episodes to counts: how many lives share each (entry, lower, upper)."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.errors import EstimateError
from wornby.records.conventions import PER_MILE
from wornby.tables import COUNTS

DAYS_PER_YEAR = 365.25
YEARS = "years"
UNITS = (YEARS, *PER_MILE)
DISTANCE_STEP_MI = 20.0
"""Coarse enough that a million episodes share some ten thousand spans, too fine to bias."""


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


def scale_of(unit: str) -> str:
    """What a unit measures: years an age, miles and kilometres a distance."""
    return "age" if unit == YEARS else "distance"


def on_unit(end: str, unit: str) -> pl.Expr:
    """An end of episodes (entry, sound or exit) in years, miles or kilometres.

    ValueError: a unit that is none of them.

    >>> pl.DataFrame({"exit_mi": [100.0]}).select(on_unit("exit", "kilometres")).item()
    160.9344
    """
    if unit not in UNITS:
        raise ValueError(f"no unit {unit!r}; use {', '.join(UNITS)}")
    if unit == YEARS:
        return (pl.col(f"{end}_days") / DAYS_PER_YEAR).alias(end)
    return (pl.col(f"{end}_mi") * PER_MILE[unit]).alias(end)


def count_episodes(episodes: pl.DataFrame, *, unit: str, what: str, rule: str) -> Counts:
    """Distinct (entry, lower, upper) on age in years or distance in its unit, with their counts.

    Ages are exact to the day. Distances go to the nearest `DISTANCE_STEP_MI`, entry and exit
    alike; where that would leave no distance at risk they stay as they were. Episodes without
    a distance, or with none between entry and exit, say nothing on distance.
    """
    spans = _spans(episodes, unit).filter(pl.col("exit") > pl.col("entry"))
    keys = ["entry", "lower", "upper"]
    bounded = spans.with_columns(
        lower=pl.max_horizontal("entry", pl.min_horizontal("sound", "exit")),
        upper=pl.when("failed").then("exit").otherwise(float("inf")),
    )
    counted = bounded.group_by(keys).agg(count=pl.col("weight").sum()).sort(keys)
    return Counts(COUNTS.shape(counted), unit=unit, what=what, rule=rule)


def _spans(episodes: pl.DataFrame, unit: str) -> pl.DataFrame:
    """Entry, last known sound and exit in the unit, coarse enough to count."""
    ends = {name: on_unit(name, unit) for name in ("entry", "sound", "exit")}
    if unit == YEARS:
        return episodes.select("failed", "weight", **ends)
    step = DISTANCE_STEP_MI * PER_MILE[unit]
    near = {name: (end / step).round() * step for name, end in ends.items()}
    collapsed = near["exit"] <= near["entry"]
    known = episodes.filter(ends["entry"].is_not_null() & ends["exit"].is_not_null())
    return known.select(
        "failed",
        "weight",
        **{name: pl.when(collapsed).then(ends[name]).otherwise(near[name]) for name in ends},
    )


def count_lives(lives: pl.DataFrame, *, rule: str) -> dict[str, Counts]:
    """Ready-made lives, by component: see `tables.LIVES`."""
    made: dict[str, Counts] = {}
    keys = lives.select("component", "unit").unique(maintain_order=True)
    twice = keys.filter(pl.col("component").is_duplicated())["component"].to_list()
    for component, unit in keys.iter_rows():
        name = f"{component} ({unit})" if component in twice else component
        table = lives.filter(component=component, unit=unit).select(
            pl.col("entry").fill_null(0.0),
            "lower",
            upper=pl.when(pl.col("ending") != "in service").then("upper").otherwise(float("inf")),
            count=pl.col("count").fill_null(1).cast(pl.Float64),
        )
        made[name] = Counts(COUNTS.shape(table), unit, name, rule)
    return made
