"""Episodes as lives that can be compared: on one scale, with the words to compare them by."""

import polars as pl

from wornby.histories.counts import Counts, on_unit
from wornby.tables import COUNTS

KEYS = ["entry", "lower", "upper"]


def lives_of(episodes: pl.DataFrame, *, unit: str) -> pl.DataFrame:
    """Episodes (see `tables.EPISODES`) as lives in years, or in miles or kilometres.

    Columns vehicle, version, grade, ending, entry, lower, upper, count. A failure counts when it
    was found, whatever the rule; episodes without time or distance at risk say nothing. ValueError:
    a unit that is none of them.

    >>> seals = pl.DataFrame(
    ...     {"vehicle": ["a", "b"], "exit_days": [1461, 2922], "failed": [True, False]}
    ... ).with_columns(
    ...     version=pl.lit("short"),
    ...     grade=pl.lit("genuine"),
    ...     ending=pl.Series(["failure", "in service"]),
    ...     entry_days=pl.lit(0),
    ...     weight=pl.lit(1.0),
    ... )
    >>> lives = lives_of(seals, unit="years")
    >>> lives.select("vehicle", "entry", "lower", "upper").rows()
    [('a', 0.0, 4.0, 4.0), ('b', 0.0, 8.0, inf)]
    >>> counts_of(lives, unit="years", what="seal", rule="day found").n_failures
    1.0
    """
    entry, end = on_unit("entry", unit), on_unit("exit", unit)
    words = ("vehicle", "version", "grade", "ending")
    upper = pl.when("failed").then("lower").otherwise(float("inf"))
    watched = episodes.select(*words, "failed", entry=entry, lower=end, count="weight").filter(
        pl.col("lower") > pl.col("entry")
    )
    return watched.select(*words, "entry", "lower", upper=upper, count="count")


def counts_of(lives: pl.DataFrame, *, unit: str, what: str, rule: str) -> Counts:
    """Distinct (entry, lower, upper) of some lives, whoever's they are.

    EstimateError where a life cannot be, see `Counts`.
    """
    counted = lives.group_by(KEYS).agg(pl.col("count").sum()).sort(KEYS)
    return Counts(COUNTS.shape(counted), unit=unit, what=what, rule=rule)
