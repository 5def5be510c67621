"""When the original parts were looked at, and when one was first found degraded."""

import polars as pl

from wornby.histories.watching import Episodes
from wornby.records.reading import Records
from wornby.tables import LOOKED_AT

DEGRADED = "degraded finding"


def looked_at(records: Records, made: Episodes, component: str) -> pl.DataFrame:
    """One row an original of the component: its looks and its first degraded finding.

    Looks are the vehicle's first visit, its routine visits, and the days on which the
    inspections table speaks of the component; see `tables.LOOKED_AT`. A part found degraded is
    followed no farther: one renewal that the records missed would have it show for years. One
    found so on the day that watching began is left out, as are those that were renewed on that
    day: which of them are known at all hangs on what was done.
    """
    ours = made.table.filter(component=component, origin="original").with_row_index("part")
    fitted = (pl.col("entered_on") - pl.duration(days="entry_days")).alias("fitted_on")
    dated = ours.with_columns(fitted)
    found = _degraded(records, dated, component)
    ended = pl.when(pl.col("ending") == DEGRADED).then(pl.col("exit_days"))
    first = pl.min_horizontal("degraded_days", ended)
    failed = pl.col("ending") == "failure"
    seen_in_time = first.is_not_null() & ~(failed & (first == pl.col("exit_days")))
    cut = dated.join(found, on="part", how="left").with_columns(
        degraded_days=pl.when(seen_in_time).then(first),
        exit_days=pl.when(seen_in_time).then(first).otherwise("exit_days"),
        failed=failed & ~seen_in_time,
    )
    kept = cut.filter(
        pl.col("degraded_days").is_null() | (pl.col("degraded_days") > pl.col("entry_days"))
    )
    known = kept.join(_looks(records, kept, component), on="part", how="left")
    looks = pl.col("look_days").fill_null([])
    return LOOKED_AT.shape(known.with_columns(look_days=looks).sort("part"))


def _degraded(records: Records, parts: pl.DataFrame, component: str) -> pl.DataFrame:
    """Age of each part when it was first written of as degraded while it was watched."""
    seen = records.sightings.filter(
        (pl.col("component") == component)
        & pl.col("position").is_not_null()
        & ((pl.col("seen") == "degraded") | (pl.col("reason") == DEGRADED))
    )
    ages = parts.join(seen.select("vehicle", "position", "date"), on=["vehicle", "position"])
    days = (pl.col("date") - pl.col("fitted_on")).dt.total_days()
    return (
        ages.with_columns(days=days)
        .filter((pl.col("days") >= pl.col("entry_days")) & (pl.col("days") <= pl.col("exit_days")))
        .group_by("part")
        .agg(degraded_days=pl.col("days").min().cast(pl.Int32))
    )


def _looks(records: Records, parts: pl.DataFrame, component: str) -> pl.DataFrame:
    """Ages of each part at the looks between entry and exit, both days included."""
    visits = records.visits.select("vehicle", "date", "routine")
    first = pl.col("date") == pl.col("date").min().over("vehicle")
    inspected = records.sightings.filter(
        (pl.col("component") == component) & pl.col("job").is_null()
    )
    days = pl.concat(
        [
            visits.filter(first | pl.col("routine")).select("vehicle", "date"),
            inspected.select("vehicle", "date"),
        ]
    ).unique()
    age = (pl.col("date") - pl.col("fitted_on")).dt.total_days().cast(pl.Int32)
    return (
        parts.join(days, on="vehicle")
        .with_columns(age=age)
        .filter((pl.col("age") >= pl.col("entry_days")) & (pl.col("age") <= pl.col("exit_days")))
        .group_by("part")
        .agg(look_days=pl.col("age").sort())
    )
