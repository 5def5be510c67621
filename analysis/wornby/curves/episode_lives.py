"""Episodes as lives that can be compared: on one scale, with the words to compare them by."""

import polars as pl

from wornby.histories.counts import DAYS_PER_YEAR, UNITS, Counts
from wornby.tables import COUNTS

KEYS = ["entry", "lower", "upper"]


def lives_of(episodes: pl.DataFrame, *, scale: str) -> pl.DataFrame:
    """Episodes (see `tables.EPISODES`) as lives on age in years or distance in miles.

    Columns vehicle, version, grade, ending, entry, lower, upper, count. A failure counts when it
    was found, whatever the rule; episodes without time or distance at risk say nothing.
    """
    if scale not in UNITS:
        raise ValueError(f"no scale {scale!r}; use {' or '.join(UNITS)}")
    entry, end = (
        (pl.col("entry_days") / DAYS_PER_YEAR, pl.col("exit_days") / DAYS_PER_YEAR)
        if scale == "age"
        else (pl.col("entry_mi"), pl.col("exit_mi"))
    )
    words = ("vehicle", "version", "grade", "ending")
    upper = pl.when("failed").then("lower").otherwise(float("inf"))
    watched = episodes.select(*words, "failed", entry=entry, lower=end, count="weight").filter(
        pl.col("lower") > pl.col("entry")
    )
    return watched.select(*words, "entry", "lower", upper=upper, count="count")


def counts_of(lives: pl.DataFrame, *, unit: str, what: str, rule: str) -> Counts:
    """Distinct (entry, lower, upper) of some lives, whoever's they are."""
    counted = lives.group_by(KEYS).agg(pl.col("count").sum()).sort(KEYS)
    return Counts(COUNTS.shape(counted), unit=unit, what=what, rule=rule)
