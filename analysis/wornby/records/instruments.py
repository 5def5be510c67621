"""Odometers that were replaced or set back: from some day on a vehicle's readings start lower."""

import polars as pl

NEAR_ZERO = 0.25
"""A new instrument shows at first less than this share of what the old one had reached."""
FAST = 3.0
"""A new instrument may run on at up to so many times the pace before it, not faster."""


def with_instruments(daily: pl.DataFrame, *, tolerance_mi: float) -> pl.DataFrame:
    """Number the stretches between which a vehicle's odometer fell and stayed down.

    Adds `instrument`: 0 up to the first such fall. One wild reading makes no new stretch: two
    readings before the fall must each lie above two after it, so that no single one explains
    all. A fall to near nothing needs one before it only, if that one is a plausible distance
    for its age (up to three times the fleet's median pace). Takes and keeps vehicle, date,
    odometer_mi, miles_per_year (from new), in order of vehicle and date.
    """
    mi, last = pl.col("odometer_mi"), pl.col("last_mi")
    shown = daily.with_columns(
        last_mi=mi.shift(1).over("vehicle"),
        before_mi=mi.shift(2).over("vehicle"),
        next_mi=mi.shift(-1).over("vehicle"),
        last_pace=pl.col("miles_per_year").shift(1).over("vehicle"),
    )
    stays_down = (last > mi + tolerance_mi) & (
        pl.col("next_mi").is_between(mi - tolerance_mi, last - tolerance_mi)
    )
    two_before = pl.col("before_mi").is_between(mi + tolerance_mi, last + tolerance_mi)
    plausible = pl.col("last_pace") <= FAST * pl.col("miles_per_year").median()
    falls = stays_down & (two_before | ((mi <= NEAR_ZERO * last) & plausible))
    # in a step of its own: within over() the median would be the vehicle's, not the fleet's
    marked = shown.with_columns(instrument=falls.fill_null(False).cast(pl.Int32))
    numbered = marked.with_columns(pl.col("instrument").cum_sum().over("vehicle"))
    return numbered.drop("last_mi", "before_mi", "next_mi", "last_pace")


def joined_on(good: pl.DataFrame, *, tolerance_mi: float) -> pl.DataFrame:
    """Readings of a replaced instrument with what the old one had reached added.

    `good` has each vehicle's readings without its slips. Adds mended_mi: as it stands on the
    first instrument; on a later one the old one's last reading and the distance since, which
    is what the new one shows or what the vehicle's pace since new gives, whichever is more.
    That can be off by what was driven between the two visits. Null where the new stretch does
    not start near nothing or runs on faster than the vehicle can have: it was set back, and
    nothing tells by how much.
    """
    made = good.with_columns(
        mended_mi=pl.when(pl.col("instrument") == 0).then(pl.col("odometer_mi"))
    )
    latest = made["instrument"].max()
    for number in range(1, (latest if isinstance(latest, int) else 0) + 1):
        added = _added(made, number, tolerance_mi=tolerance_mi)
        joined = made.join(added, on="vehicle", how="left", maintain_order="left")
        on_this = pl.col("instrument") == number
        made = joined.with_columns(
            mended_mi=pl.when(on_this)
            .then(pl.col("odometer_mi") + pl.col("added_mi"))
            .otherwise("mended_mi")
        ).drop("added_mi")
    return made


def _added(made: pl.DataFrame, number: int, *, tolerance_mi: float) -> pl.DataFrame:
    """What to add to the readings of one instrument, vehicle by vehicle."""
    old = made.filter(pl.col("instrument") < number).group_by("vehicle", maintain_order=True)
    new = made.filter(pl.col("instrument") == number).group_by("vehicle", maintain_order=True)
    ends = old.agg(
        old_mi=pl.col("mended_mi").last(),
        old_on=pl.col("date").last(),
        age_years=pl.col("age_years").last(),
    )
    starts = new.agg(
        new_mi=pl.col("odometer_mi").first(),
        new_on=pl.col("date").first(),
        gain_mi=pl.col("odometer_mi").last() - pl.col("odometer_mi").first(),
        years=(pl.col("date").last() - pl.col("date").first()).dt.total_days() / 365.25,
    )
    pace = pl.col("old_mi") / pl.col("age_years")
    gap = pace * (pl.col("new_on") - pl.col("old_on")).dt.total_days() / 365.25
    replaced = (
        (pl.col("new_mi") <= NEAR_ZERO * pl.col("old_mi"))
        & (pl.col("new_mi") <= FAST * gap + tolerance_mi)
        & (pl.col("gain_mi") <= FAST * pace * pl.col("years") + tolerance_mi)
    )
    since = pl.max_horizontal("new_mi", gap)
    added = pl.when(replaced).then(pl.col("old_mi") + since - pl.col("new_mi"))
    return ends.join(starts, on="vehicle").select("vehicle", added_mi=added)
