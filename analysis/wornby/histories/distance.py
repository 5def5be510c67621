"""How far a vehicle had gone on a day, between the readings that there are."""

import polars as pl


def odometer_readings(readings: pl.DataFrame, vehicles: pl.DataFrame) -> pl.DataFrame:
    """Readings with the one that everybody knows: nothing on the day of first registration."""
    new = vehicles.select("vehicle", date="first_registered", odometer_mi=pl.lit(0.0))
    first = pl.concat([readings.select("vehicle", "date", "odometer_mi"), new])
    return first.unique(["vehicle", "date"], keep="first", maintain_order=True).sort("date")


def odometer_on(days: pl.DataFrame, readings: pl.DataFrame) -> pl.Series:
    """Miles on each (vehicle, date), interpolated in time between two readings.

    A day before the first reading or after the last has no answer: null, never a guess.
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
    )
    gap = (pl.col("next_on") - pl.col("known_on")).dt.total_days()
    share = (pl.col("date") - pl.col("known_on")).dt.total_days() / pl.max_horizontal(gap, 1)
    miles = pl.col("known_mi") + share * (pl.col("next_mi") - pl.col("known_mi"))
    return both.sort("asked").select(odometer_mi=miles).to_series()
