"""Weights that bring answers into line with what is known of all vehicles."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wornby.errors import EstimateError

Array = NDArray[np.float64]

MET = 1e-10
"""Margins are met when none misses its total by more than this share of the whole."""
MOST_SWEEPS = 5_000
AGREED = 1e-6
"""How far, as a share, two margins may differ in what they add up to."""


@dataclass(frozen=True, eq=False, slots=True)
class Raked:
    """A table brought to its known margins: `table`, and the `weights` that do it.

    Both have the shape of the seed, and `table` is seed times `weights`; a cell without answers
    stays 0 and has weight 0. `miss` is the largest gap between a margin and its total, as a
    share of the whole, after `sweeps` rounds.
    """

    table: Array
    weights: Array
    sweeps: int
    miss: float


def rake(seed: ArrayLike, totals: Sequence[ArrayLike]) -> Raked:
    """Scale a table until its margins are the known totals (Deming & Stephan 1940).

    `seed` holds answers, or sums of weights, by cell, in as many dimensions as there are
    characteristics; `totals` has for each dimension in turn the known total of each category.
    One round scales every dimension in its turn; what the rounds keep are the odds ratios of the
    seed, so that cells without answers stay empty. With one dimension it is post-stratification.

    EstimateError where a category has a total but nobody answered, where the margins add up to
    different wholes, and where rounds do not settle because empty cells leave no such table.
    ValueError where shapes do not fit or a number is negative or not finite.

    >>> raked = rake([[6, 2], [3, 9]], [[120, 80], [100, 100]])
    >>> raked.table.round(2).tolist(), raked.table.sum(axis=1).round(6).tolist()
    ([[83.69, 36.31], [16.31, 63.69]], [120.0, 80.0])
    >>> raked.sweeps, raked.miss < 1e-10
    (15, True)
    """
    start = np.asarray(seed, dtype=np.float64)
    margins = [np.asarray(total, dtype=np.float64) for total in totals]
    _check_shapes(start, margins)
    _check_totals(start, margins)
    whole = float(margins[0].sum())

    table = start.copy()
    for sweep in range(1, MOST_SWEEPS + 1):
        for axis, total in enumerate(margins):
            table = table * _factors(table, axis, total)
        miss = _largest_miss(table, margins) / whole
        if miss <= MET:
            weights = np.divide(table, start, out=np.zeros_like(table), where=start > 0)
            return Raked(table, weights, sweep, miss)
    raise EstimateError(
        f"raking did not settle in {MOST_SWEEPS:,} rounds: a margin still misses its total by "
        f"{miss:.2g} of the whole; too many of the cells are empty for these totals"
    )


def effective_sample_size(weights: ArrayLike) -> float:
    """How many answers of equal weight would be worth as much as these (Kish 1965).

    The squared sum of the weights over the sum of their squares: the number of answers where
    all weigh the same, and fewer the more the weights differ. It counts the price of weighting
    only, not what weighting gains where answers differ between the groups.

    >>> effective_sample_size([1, 1, 1, 1]), effective_sample_size([4, 2, 2, 2])
    (4.0, 3.5714285714285716)
    """
    given = np.asarray(weights, dtype=np.float64)
    if given.ndim != 1 or not np.isfinite(given).all() or (given < 0).any():
        raise ValueError("weights: wanted one row of numbers from 0 up")
    if not given.any():
        raise EstimateError("no answer has a weight above 0: no effective sample size")
    scaled = given / given.max()
    return float(scaled.sum() ** 2 / (scaled**2).sum())


def _margin(table: Array, axis: int) -> Array:
    others = tuple(other for other in range(table.ndim) if other != axis)
    return np.asarray(table.sum(axis=others))


def _factors(table: Array, axis: int, total: Array) -> Array:
    """What each category of one dimension is scaled by, shaped to multiply the table."""
    found = _margin(table, axis)
    factors = np.divide(total, found, out=np.zeros_like(total), where=found > 0)
    return factors.reshape([-1 if other == axis else 1 for other in range(table.ndim)])


def _largest_miss(table: Array, margins: Sequence[Array]) -> float:
    return max(
        float(np.abs(_margin(table, axis) - total).max()) for axis, total in enumerate(margins)
    )


def _check_shapes(seed: Array, margins: Sequence[Array]) -> None:
    wanted = tuple(total.size for total in margins)
    if not margins or seed.shape != wanted or any(total.ndim != 1 for total in margins):
        raise ValueError(f"seed has the shape {seed.shape}, the totals {wanted}: wanted the same")
    for what, numbers in (("seed", seed), *(("totals", total) for total in margins)):
        if not np.isfinite(numbers).all() or (numbers < 0).any():
            raise ValueError(f"{what}: wanted numbers from 0 up")


def _check_totals(seed: Array, margins: Sequence[Array]) -> None:
    """Refuse totals that no weights can meet: nobody there, or margins of different wholes."""
    wholes = [float(total.sum()) for total in margins]
    if not min(wholes) > 0:
        raise EstimateError("a margin adds up to 0: nothing to weight to")
    if max(wholes) - min(wholes) > AGREED * max(wholes):
        told = " and ".join(f"{whole:,.10g}" for whole in wholes)
        raise EstimateError(f"the margins add up to {told}: wanted one and the same whole")
    for axis, total in enumerate(margins):
        silent = np.flatnonzero((_margin(seed, axis) == 0) & (total > 0))
        if silent.size:
            raise EstimateError(
                f"margin {axis + 1}, category {silent[0] + 1}: {total[silent[0]]:,.10g} known and "
                "nobody answered; join it to another category"
            )
