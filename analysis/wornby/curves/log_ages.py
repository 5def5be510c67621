"""What counts tell a curve: log ages known alive, failed, and bounded, with their weights."""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from wornby.histories.counts import Counts

Array: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class Evidence:
    """Counts reduced to distinct log ages, measured from `centre`, with one weight for each.

    `alive` has weight +1 for each life known to be running up to that age, whether it failed
    there or not, and -1 for each that entered at it: delayed entry divides by the chance of
    having lived that long. `failed` holds exact failures. A failure in (lower, upper] is a row
    of `lower`, `upper`; `from_new` marks those whose lower bound is age nought. Weights have a
    leading axis: one row for each resample.
    """

    alive: Array
    alive_weight: Array
    failed: Array
    failed_weight: Array
    lower: Array
    upper: Array
    from_new: NDArray[np.bool_]
    bounded_weight: Array
    centre: float


def merged(ages: Array, weights: Array) -> tuple[Array, Array]:
    """Distinct ages with their summed weights, those that cancel left out."""
    distinct, summed = merged_rows(ages, weights[None, :])
    return distinct, summed[0]


def merged_rows(ages: Array, weights: Array) -> tuple[Array, Array]:
    """Distinct ages (m,) with the summed weights (b, m) of each resample (b, n)."""
    distinct, place = np.unique(ages, return_inverse=True)
    if len(weights) == 1:
        summed = np.bincount(place, weights[0], minlength=distinct.size).astype(np.float64)[None]
    else:
        rows = np.arange(ages.size)
        to_age = csr_array((np.ones(ages.size), (rows, place)), shape=(ages.size, distinct.size))
        summed = np.asarray(weights @ to_age, dtype=np.float64)
    keep = (summed != 0).any(0)
    return distinct[keep], summed[:, keep]


def without_rounding(sums: Array, count: Array) -> Array:
    """Sums of some of the counts, nought where only rounding keeps them from it.

    Whoever is counted adds at least the smallest count; a sum below half of it is of nobody.
    """
    return np.where(sums < count.min(initial=np.inf) / 2, 0.0, sums)


def middle_log_age(lower: Array, upper: Array, count: Array) -> float:
    """Mean log age of the failures, taken halfway up their bounds; of all lives without any."""
    ended = np.isfinite(upper)
    ages, weights = ((lower + upper)[ended] / 2, count[ended]) if ended.any() else (lower, count)
    known = ages > 0
    return float(np.average(np.log(ages[known]), weights=weights[known])) if known.any() else 0.0


def evidence(counts: Counts, resampled: Array | None = None) -> Evidence:
    """Reduce counts to what a likelihood needs; entries, exits and failures separately.

    `resampled` (b, rows) holds other counts of the same rows, one set for each resample.
    """
    columns = counts.columns()
    return reduced(columns, columns[3][None, :] if resampled is None else resampled)


def reduced(columns: tuple[Array, ...], weight: Array) -> Evidence:
    """Evidence from entry, lower, upper and count, with one row of weights for each resample."""
    entry, lower, upper, count = columns
    exact, in_service = lower == upper, np.isinf(upper)
    bounded = ~exact & ~in_service
    centre = middle_log_age(lower, upper, count)

    begun, lived = entry > 0, ~bounded & (lower > 0)
    alive, alive_weight = merged_rows(
        np.concatenate([lower[lived], entry[begun]]),
        np.concatenate([weight[:, lived], -weight[:, begun]], axis=1),
    )
    failed, failed_weight = merged_rows(lower[exact], weight[:, exact])
    from_new = lower[bounded] == 0
    return Evidence(
        alive=np.log(alive) - centre,
        alive_weight=alive_weight,
        failed=np.log(failed) - centre,
        failed_weight=failed_weight,
        lower=np.log(np.where(from_new, 1.0, lower[bounded])) - centre,
        upper=np.log(upper[bounded]) - centre,
        from_new=from_new,
        bounded_weight=weight[:, bounded],
        centre=centre,
    )
