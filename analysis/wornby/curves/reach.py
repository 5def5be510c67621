"""How far the data reach: entries, last failure, longest watch, and a note on answers past them.

Ages are in the unit of the counts; a note is empty where the data reach.
"""

import numpy as np

from wornby.histories.counts import Counts

EXTRAPOLATED = "extrapolated"
"""The word by which a note says that an answer lies where nothing was seen."""


def youngest_entry(counts: Counts) -> float:
    """The lowest age at which any life was watched; endless without a life."""
    entry, _, _, _ = counts.columns()
    return float(entry.min(initial=np.inf))


def last_failure(counts: Counts) -> float:
    """The highest age by which a failure was seen; nought without one."""
    _, _, upper, _ = counts.columns()
    return float(upper[np.isfinite(upper)].max(initial=0.0))


def longest_watch(counts: Counts) -> float:
    """The highest age that any life is known to have reached or ended by."""
    _, lower, upper, _ = counts.columns()
    return float(np.where(np.isfinite(upper), upper, lower).max(initial=0.0))


def past_last_failure(counts: Counts, age: float) -> str:
    """A note where an age lies past the last failure."""
    return beyond("last failure", age, last=last_failure(counts), unit=counts.unit)


def past_longest_watch(counts: Counts, age: float) -> str:
    """A note where an age lies past the longest watch."""
    return beyond("longest watch", age, last=longest_watch(counts), unit=counts.unit)


def outside_failures(counts: Counts, age: float) -> str:
    """A note where a B life lies past the last failure, or where nobody was watched so young.

    >>> import polars as pl
    >>> table = pl.DataFrame({"entry": 5.0, "lower": [6.0, 9.0], "upper": [6.0, 9.0], "count": 1.0})
    >>> counts = Counts(table, unit="years", what="thermostat", rule="as watched")
    >>> outside_failures(counts, 4.0)
    'below the youngest entry at 5 years: extrapolated'
    >>> outside_failures(counts, 9.5), outside_failures(counts, 7.0)
    ('beyond the last failure at 9 years: extrapolated', '')
    """
    return past_last_failure(counts, age) or below(
        age, first=youngest_entry(counts), unit=counts.unit
    )


def beyond(what: str, age: float, *, last: float, unit: str) -> str:
    """A note where an age lies past what was seen."""
    return f"beyond the {what} at {last:g} {unit}: {EXTRAPOLATED}" if age > last else ""


def below(age: float, *, first: float, unit: str) -> str:
    """A note where an age lies below the youngest entry: nobody was watched so young."""
    return f"below the youngest entry at {first:g} {unit}: {EXTRAPOLATED}" if age < first else ""
