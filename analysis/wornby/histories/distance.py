"""How far a vehicle had gone on a day, between the readings that there are."""

import polars as pl

from wornby.histories.counts import DAYS_PER_YEAR
from wornby.histories.pace import annual_distance


def odometer_readings(readings: pl.DataFrame, vehicles: pl.DataFrame) -> pl.DataFrame:
    """Readings with the one that everybody knows: nothing on the day of first registration."""
    new = vehicles.select("vehicle", date="first_registered", odometer_mi=pl.lit(0.0))
    first = pl.concat([readings.select("vehicle", "date", "odometer_mi"), new])
    return first.unique(["vehicle", "date"], keep="first", maintain_order=True).sort("date")


CARRIED_DAYS = 548
"""For at most a year and a half after its last reading a vehicle's pace is believed."""


def odometer_on(days: pl.DataFrame, readings: pl.DataFrame) -> pl.DataFrame:
    """Miles on each (vehicle, date), in the order asked.

    Columns odometer_mi, carried and at_least_mi.

    Between two readings miles are interpolated in time. After the last reading they are carried
    on at the vehicle's pace since new, drawn towards the fleet's as far as its readings leave it
    unsure (`pace.annual_distance`), for at most `CARRIED_DAYS`, and `carried` says so: leaving
    such days out would lose parts still in service more often than those that failed. Beyond
    that there is no answer: null, but `at_least_mi` is the distance up to which there is one.
    """
    asked = days.select("vehicle", "date").with_row_index("asked").sort("date")
    known = readings.select("vehicle", known_on="date", known_mi="odometer_mi")
    before = asked.join_asof(
        known, left_on="date", right_on="known_on", by="vehicle", check_sortedness=False
    )
    both = before.join_asof(
        known.rename({"known_on": "next_on", "known_mi": "next_mi"}),
        left_on="date",
        right_on="next_on",
        by="vehicle",
        strategy="forward",
        check_sortedness=False,
    ).join(_pace(readings), on="vehicle", how="left")
    since = (pl.col("date") - pl.col("known_on")).dt.total_days()
    gap = (pl.col("next_on") - pl.col("known_on")).dt.total_days()
    share = since / pl.max_horizontal(gap, 1)
    between = pl.col("known_mi") + share * (pl.col("next_mi") - pl.col("known_mi"))
    at_least = pl.col("known_mi") + since.clip(upper_bound=CARRIED_DAYS) * pl.col("miles_per_day")
    onward = pl.when(since <= CARRIED_DAYS).then(at_least)
    return both.sort("asked").select(
        odometer_mi=pl.coalesce(between, onward),
        carried=between.is_null() & onward.is_not_null(),
        at_least_mi=pl.coalesce(between, at_least),
    )


def _pace(readings: pl.DataFrame) -> pl.DataFrame:
    """Each vehicle's miles a day; none where it was never read after new."""
    pooled = annual_distance(readings, confidence=0.9).filter(pl.col("own_pace").is_not_null())
    return pooled.select("vehicle", miles_per_day=pl.col("pooled_pace") / DAYS_PER_YEAR)
