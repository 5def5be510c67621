"""Competing endings: how many parts have come to each end by each age.

One minus Kaplan-Meier of a single ending, others taken as withdrawn, answers what would happen
if the others could not; it overstates how many end so, because a part that was renewed can no
longer fail. The cumulative incidence counts what does happen.

An ending is a row of entry, exit, ending and count; `ending` is empty for parts in service. At
risk over (entry, exit].
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from wornby.curves.bands import check_confidence, survival_limits
from wornby.curves.hazard_cells import Places
from wornby.curves.lives import vehicle_places
from wornby.curves.log_ages import Array, without_rounding
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import check_counts

MOST_AT_ONCE = 4_000_000


@dataclass(frozen=True, eq=False, slots=True)
class Incidence:
    """Share of parts that have come to each end by each age.

    `table` has ending, age, at_risk, ended, share, std_err, lower, upper: limits on the
    log-log scale of the share that has not come to that end.
    """

    table: pl.DataFrame
    confidence: float

    def share(self, ending: str, age: ArrayLike) -> Array:
        """Share that has come to one end by each age."""
        return self._steps(ending, "share", age)

    def std_err(self, ending: str, age: ArrayLike) -> Array:
        """Standard error of that share."""
        return self._steps(ending, "std_err", age)

    def estimate(self, ending: str, age: float) -> Estimate:
        """Share that has come to one end by an age, with its limits; nought before the first."""
        steps = self.table.filter((pl.col("ending") == ending) & (pl.col("age") <= age))
        if not steps.height:
            return Estimate(0.0, 0.0, None, self.confidence, "share", "none seen by then")
        share, lower, upper = steps.select("share", "lower", "upper").row(-1)
        return Estimate(share, lower, upper, self.confidence, "share")

    def _steps(self, ending: str, column: str, age: ArrayLike) -> Array:
        """A step column of one ending at each age, nought before the first step."""
        rows = self.table.filter(pl.col("ending") == ending)
        if not rows.height:
            raise ValueError(f"ending {ending!r}: wanted one of {self.table['ending'].unique()}")
        steps = np.append(0.0, rows[column].to_numpy())
        return np.asarray(steps[np.searchsorted(rows["age"], age, side="right")])


@dataclass(frozen=True, eq=False, slots=True)
class Endings:
    """Rows of lives in order of cluster; at each age at which something ended, the risk set.

    `ending` is a place among the names, -1 in service; `weight` makes squared sums of clusters
    a variance.
    """

    entry: Array
    exit: Array
    ending: Places
    weight: Array
    cluster: Places
    age: Array
    at_risk: Array
    ended: Array
    alive_before: Array


def check_endings(frame: pl.DataFrame) -> None:
    """Refuse, with an EstimateError, the first row that cannot be."""
    upper = pl.when(pl.col("ending").is_null()).then(float("inf")).otherwise("exit")
    check_counts(frame.with_columns(lower="exit", upper=upper), "endings")
    if "vehicle" in frame.columns and frame["vehicle"].null_count():
        raise EstimateError(f"endings: {frame['vehicle'].null_count()} rows name no vehicle")


def endings(frame: pl.DataFrame, names: list[str]) -> Endings:
    """Risk sets and endings by age; each row is a cluster unless there is a column vehicle."""
    clustered = "vehicle" in frame.columns
    frame = frame.sort("vehicle") if clustered else frame
    entry, end, count = (frame[c].cast(pl.Float64).to_numpy() for c in ("entry", "exit", "count"))
    place = {name: i for i, name in enumerate(names)}
    ending = np.array([place.get(name, -1) for name in frame["ending"]], dtype=np.int64)
    seen, age = ending >= 0, np.unique(end[ending >= 0])
    ended = np.zeros((len(names), age.size))
    np.add.at(ended, (ending[seen], np.searchsorted(age, end[seen])), count[seen])
    at_risk = before(entry, count, age) - before(end, count, age)
    at_risk = ended.sum(0) + without_rounding(at_risk - ended.sum(0), count)
    alive = np.append(1.0, np.cumprod(1 - ended.sum(0) / at_risk))[:-1]
    cluster = vehicle_places(frame["vehicle"]) if clustered else np.arange(entry.size)
    weight = count if clustered else np.sqrt(count)
    return Endings(entry, end, ending, weight, cluster, age, at_risk, ended, alive)


def before(ages: Array, weights: Array, at: Array) -> Array:
    """Weight of the ages below each of `at`."""
    order = np.argsort(ages)
    total = np.append(0.0, np.cumsum(weights[order]))
    return np.asarray(total[np.searchsorted(ages[order], at)])


def influences(seen: Endings, rows: slice) -> Array:
    """How much one more life like each row would move each share, at each age (k, n, a).

    The derivative of the Aalen-Johansen estimate in the weight of a life.
    """
    entry, end = seen.entry[rows, None], seen.exit[rows, None]
    watched = (entry < seen.age) & (seen.age <= end)
    at_end = (end == seen.age) & (seen.ending[rows, None] >= 0)
    hazard = seen.ended.sum(0) / seen.at_risk
    surprise = (at_end - watched * hazard) / seen.at_risk
    left = np.where(hazard < 1, 1 - hazard, np.inf)
    moved = -np.cumsum(surprise / left, axis=1)
    moved_before = np.concatenate([np.zeros((len(moved), 1)), moved[:, :-1]], axis=1)
    parts = []
    for k, ended in enumerate(seen.ended):
        own = at_end & (seen.ending[rows, None] == k)
        direct = (own - watched * ended / seen.at_risk) / seen.at_risk
        through = moved_before * ended / seen.at_risk
        parts.append(np.cumsum(seen.alive_before * (direct + through), axis=1))
    return np.stack(parts)


def blocks(cluster: Places, width: int) -> list[slice]:
    """Runs of rows that hold whole clusters and not too many cells at once."""
    first = np.flatnonzero(np.diff(cluster, prepend=-1))
    block = first // max(MOST_AT_ONCE // max(width, 1), 1)
    cuts = np.append(first[np.flatnonzero(np.diff(block, prepend=-1))], cluster.size)
    return [slice(a, b) for a, b in pairwise(cuts.tolist())]


def robust_variance(seen: Endings) -> Array:
    """Sum over vehicles of squared influences (k, a): the infinitesimal jackknife."""
    total = np.zeros_like(seen.ended)
    for rows in blocks(seen.cluster, seen.age.size):
        moved = influences(seen, rows) * seen.weight[rows, None]
        first = np.flatnonzero(np.diff(seen.cluster[rows], prepend=-1))
        total += (np.add.reduceat(moved, first, axis=1) ** 2).sum(1)
    return total


def cumulative_incidence(frame: pl.DataFrame, *, confidence: float) -> Incidence:
    """Share that has come to each end by each age, with delayed entry (Aalen & Johansen 1978).

    `frame` has entry, exit, ending, count; with a column vehicle, the variance lets the parts
    of one vehicle depend on one another, without it each life stands alone. Where all at risk
    have ended the shares add up to one and stay there, whoever is watched later. EstimateError:
    a row that cannot be, or no ending at all.

    >>> parts = pl.DataFrame(
    ...     {
    ...         "entry": 0.0,
    ...         "exit": [1.0, 2.0, 3.0, 4.0],
    ...         "ending": ["failed", "renewed", "failed", None],
    ...         "count": 1.0,
    ...     }
    ... )
    >>> cumulative_incidence(parts, confidence=0.9).share("failed", [1.0, 3.0]).tolist()
    [0.25, 0.5]
    """
    check_confidence(confidence)
    names = sorted(frame["ending"].drop_nulls().unique().to_list())
    if not names:
        raise EstimateError(f"none of {frame.height} parts has come to an end: no shares")
    check_endings(frame)
    seen = endings(frame, names)
    share = np.cumsum(seen.alive_before * seen.ended / seen.at_risk, axis=1)
    std_err = np.sqrt(robust_variance(seen))
    tables = []
    for k, name in enumerate(names):
        started = share[k] > 0
        other = 1 - share[k][started]
        relative = np.where(other > 0, std_err[k][started] / np.maximum(other, 1e-300), np.nan)
        lower, upper = survival_limits(other, relative, confidence=confidence, band="log-log")
        columns = {
            "age": seen.age[started],
            "at_risk": seen.at_risk[started],
            "ended": seen.ended[k][started],
            "share": share[k][started],
            "std_err": std_err[k][started],
            "lower": 1 - upper,
            "upper": 1 - lower,
        }
        tables.append(pl.DataFrame(columns).select(pl.lit(name).alias("ending"), pl.all()))
    return Incidence(
        pl.concat(tables).with_columns(pl.col("lower", "upper").fill_nan(None)), confidence
    )
