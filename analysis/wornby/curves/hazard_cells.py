"""Where a nonparametric curve may fall: the cells between a lower bound and the next upper one.

A life with entry e, known alive at l and failed by r has likelihood S(l) - S(r) given S(e). In
hazard increments over cells, its logarithm is -hazard(e, l] + log(1 - exp(-hazard(l, r])),
which is concave, delayed entry and all; so a point that satisfies the conditions of Karush,
Kuhn and Tucker is a global maximum. Between two neighbouring bounds it is best to fall as
late as possible, so only cells that follow a lower bound and end at an upper bound or an entry
can carry a fall (Peto 1973; Turnbull 1976; with entries, Alioum & Commenges 1996).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wornby.curves.log_ages import Array
from wornby.histories.counts import Counts

Places = NDArray[np.int64]


@dataclass(frozen=True, eq=False, slots=True)
class Cells:
    """Cells (left, right], and for each life the half-open ranges of cells that concern it.

    A life is at risk in the cells from `entered` up to `alive`; if it `ended`, it failed in one
    of the cells from `alive` up to `failed`.
    """

    left: Array
    right: Array
    entered: Places
    alive: Places
    failed: Places
    ended: NDArray[np.bool_]
    count: Array


JUST_BEFORE, UP_TO, AFTER = 0, 1, 2


def cells(counts: Counts) -> Cells:
    """The cells of a set of counts, exact failures being a cell of their own."""
    entry, lower, upper, count = counts.columns()
    exact, ended = lower == upper, np.isfinite(upper)
    kinds = [
        np.where(exact, JUST_BEFORE, AFTER),
        np.full(upper.size, UP_TO),
        np.full(entry.size, UP_TO),
    ]
    ages = np.concatenate([lower, upper, entry])
    kind = np.concatenate(kinds)
    opens = np.arange(ages.size) < lower.size
    keep = np.isfinite(ages)
    order = np.lexsort((kind[keep], ages[keep]))
    ages, opens = ages[keep][order], opens[keep][order]

    starts = np.flatnonzero(opens[:-1] & ~opens[1:])
    left, right = ages[starts], ages[starts + 1]
    rank = np.empty(keep.sum(), dtype=np.int64)
    rank[order] = np.arange(order.size)
    places = np.full(keep.size, starts.size, dtype=np.int64)
    places[keep] = np.searchsorted(starts, rank)
    alive, failed, entered = np.split(places, [lower.size, 2 * lower.size])
    return Cells(left, right, entered, np.maximum(alive, entered), failed, ended, count)
