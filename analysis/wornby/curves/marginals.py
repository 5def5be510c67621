"""Entries and exits counted apart: far fewer rows that say the same to a curve.

A likelihood with exact ages, a risk set, Kaplan-Meier and the log-rank test see only how many
entered and how many left at each age, never who. So the youngest entry may be paired with the
first exit, and so on: no pair then ends before it begins, and a million lives in days become a
few thousand rows. Not for errors by vehicle, nor for failures known within bounds.
"""

import numpy as np
import polars as pl

from wornby.curves.at_risk import check_exact
from wornby.errors import EstimateError
from wornby.histories.counts import DAYS_PER_YEAR, Counts


def coupled(entries: pl.DataFrame, exits: pl.DataFrame) -> pl.DataFrame:
    """Pair sorted entries (entry, count) with sorted exits (lower, upper, count), in order."""
    entered, left = (frame["count"].cum_sum().to_numpy() for frame in (entries, exits))
    ends = np.unique(np.concatenate([entered, left]))
    ends = ends[np.append(np.diff(ends) > 1e-9 * ends[-1], True)]
    middles = ends - np.diff(ends, prepend=0.0) / 2
    entry = entries["entry"].to_numpy()[np.searchsorted(entered, middles)]
    row = np.searchsorted(left, middles)
    lower, upper = exits["lower"].to_numpy()[row], exits["upper"].to_numpy()[row]
    count = np.diff(ends, prepend=0.0)
    return pl.DataFrame({"entry": entry, "lower": lower, "upper": upper, "count": count})


def marginal_counts(counts: Counts) -> Counts:
    """The same entries and exits in as few rows as they need; exact failures only.

    EstimateError: no lives, bounded failures, or no time at risk.

    >>> table = pl.DataFrame(
    ...     {"entry": [0.0, 1.0], "lower": [5.0, 3.0], "upper": [5.0, float("inf")], "count": 2.0}
    ... )
    >>> seals = Counts(table, unit="years", what="seal", rule="as watched")
    >>> marginal_counts(seals).table.rows()
    [(0.0, 3.0, inf, 2.0), (1.0, 5.0, 5.0, 2.0)]
    """
    check_exact(counts)
    watched = counts.table.filter(pl.col("lower") > pl.col("entry"))
    if not watched.height:
        raise EstimateError(f"{counts.what}: no life was watched for any time")
    entries = watched.group_by("entry").agg(pl.col("count").sum()).sort("entry")
    exits = watched.group_by("lower", "upper").agg(pl.col("count").sum()).sort("lower", "upper")
    return Counts(coupled(entries, exits), counts.unit, counts.what, counts.rule)


def count_ages(episodes: pl.DataFrame, *, what: str, rule: str) -> Counts:
    """Episodes in days (see `tables.EPISODES`) straight to marginal counts on age in years.

    EstimateError: nothing was watched, or a failure is known only between two visits.

    >>> seals = pl.DataFrame(
    ...     {
    ...         "entry_days": [0, 365, 730],
    ...         "sound_days": [1461, 2922, 2922],
    ...         "exit_days": [1461, 2922, 2922],
    ...         "failed": [True, False, True],
    ...         "weight": 1.0,
    ...     }
    ... )
    >>> count_ages(seals, what="seal", rule="as watched").table["lower"].to_list()
    [4.0, 8.0, 8.0]
    """
    watched = episodes.lazy().filter(pl.col("exit_days") > pl.col("entry_days"))
    between = pl.col("failed") & (pl.col("sound_days") < pl.col("exit_days"))
    count = pl.col("weight").sum().alias("count")
    days = pl.col("entry_days") / DAYS_PER_YEAR, pl.col("exit_days") / DAYS_PER_YEAR
    entries = watched.group_by("entry_days").agg(count).sort("entry_days")
    exits = watched.group_by("exit_days", "failed").agg(count).sort("exit_days", "failed")
    upper = pl.when("failed").then(days[1]).otherwise(float("inf"))
    entered, left, bounded = pl.collect_all(
        [
            entries.select("count", entry=days[0]),
            exits.select("count", lower=days[1], upper=upper),
            watched.select(between.sum()),
        ]
    )
    if n_bounded := bounded.item():
        raise EstimateError(
            f"{what}: {n_bounded} failures known only between two visits, wanted exact ages:"
            " use count_episodes"
        )
    if not left.height:
        raise EstimateError(f"{what}: no life was watched for any time")
    return Counts(coupled(entered, left), "years", what, rule)
