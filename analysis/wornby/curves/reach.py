"""How far the data reach: last failure, longest watch, and a note on answers past them."""

import numpy as np

from wornby.histories.counts import Counts


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


def beyond(what: str, age: float, *, last: float, unit: str) -> str:
    """A note where an age lies past what was seen."""
    return f"beyond the {what} at {last:g} {unit}: extrapolated" if age > last else ""
