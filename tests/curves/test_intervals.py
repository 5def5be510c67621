"""Turnbull's estimate: a proven maximum, against Kaplan-Meier, self-consistency and isotonic fits.

Published values are in tests/published/.
"""

from itertools import pairwise

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import ArrayLike, NDArray

from wornby.curves.intervals import turnbull
from wornby.curves.nonparametric import kaplan_meier
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

LIFE = st.tuples(st.integers(0, 5), st.integers(0, 6), st.integers(0, 6), st.integers(1, 3))


def counts_of(
    entry: ArrayLike, lower: ArrayLike, upper: ArrayLike, count: ArrayLike = 1.0
) -> Counts:
    columns = np.broadcast_arrays(entry, lower, upper, count)
    names = ("entry", "lower", "upper", "count")
    table = pl.DataFrame(dict(zip(names, np.array(columns, dtype=float), strict=True)))
    return Counts(table, unit="years", what="hose", rule="as watched")


def inspected(n: int, seed: int, *, late: bool) -> Counts:
    """Lives looked at now and then, each until an age of its own."""
    rng = np.random.default_rng(seed)
    life, stop = 10 * rng.weibull(2, n), rng.uniform(3, 20, n)
    looks = np.cumsum(rng.exponential(1.5, (n, 40)), axis=1)
    seen = looks <= np.minimum(life, stop)[:, None]
    before = np.where(seen.any(1), np.take_along_axis(looks, seen.sum(1)[:, None] - 1, 1)[:, 0], 0)
    after = np.take_along_axis(looks, seen.sum(1)[:, None], 1)[:, 0]
    upper = np.where(after <= stop, after, np.inf)
    entry = before * rng.uniform(-0.5, 1, n).clip(0) if late else 0 * before
    return counts_of(entry, before, upper)


def mass_gradient(
    counts: Counts, left: list[float], right: list[float], mass: list[float]
) -> NDArray[np.float64]:
    """Derivative of the log-likelihood for each life in a chance added to each cell."""
    entry, lower, upper, count = (c[:, None] for c in counts.columns())
    within = (np.array(left) >= lower) & (np.array(right) <= upper)
    after = np.array(left) >= entry
    chance, given_entry = within @ np.array(mass), after @ np.array(mass)
    gradient = count * (within / chance[:, None] - after / given_entry[:, None])
    return np.asarray(gradient.sum(0) / count.sum())


@pytest.mark.parametrize("late", [False, True])
def test_no_other_place_for_mass_would_raise_the_likelihood(late: bool) -> None:
    """The conditions of Gentleman & Geyer (1994), on chances, at every gap between bounds."""
    counts = inspected(300, 4, late=late)
    curve = turnbull(counts)
    assert curve.violation < 1e-10
    _, lower, upper, _ = counts.columns()
    bounds = np.unique(np.concatenate([counts.columns()[0], lower, upper]))
    cells = curve.table
    gaps = [*pairwise(bounds), (float(lower.max()), np.inf)]
    held = {(row[0], row[1]): row[2] for row in cells.iter_rows()}
    gaps += [cell for cell in held if cell not in gaps]
    masses = [held.get(gap, 0.0) for gap in gaps]
    left, right = [gap[0] for gap in gaps], [gap[1] for gap in gaps]
    gradient = mass_gradient(counts, left, right, masses)
    assert gradient.max() < 1e-8
    assert np.abs(gradient[np.array(masses) > 0]).max() < 1e-8


def test_exact_failures_give_kaplan_meier() -> None:
    rng = np.random.default_rng(5)
    entry = np.append(np.zeros(30), rng.uniform(0, 3, 100))
    end = entry + rng.uniform(0.1, 6, 130)
    counts = counts_of(entry, end, np.where(rng.random(130) < 0.5, end, np.inf))
    ages = np.linspace(0, 9, 50)
    ours, theirs = turnbull(counts), kaplan_meier(counts, confidence=0.9)
    assert ours.survival(ages) == pytest.approx(theirs.survival(ages), abs=1e-9)


def test_current_status_is_the_isotonic_fit() -> None:
    """With one look at each part the estimate is a pooled share of failed (Ayer et al. 1955)."""
    ages, failed, looked = [1.0, 2.0, 3.0, 4.0], [1, 4, 2, 6], [10, 10, 10, 10]
    sound = [n - f for n, f in zip(looked, failed, strict=True)]
    lower, upper = [0.0] * 4 + ages, ages + [np.inf] * 4
    curve = turnbull(counts_of([0.0] * 8, lower, upper, failed + sound))
    assert 1 - curve.survival(ages) == pytest.approx([0.1, 0.3, 0.3, 0.6], abs=1e-9)


def test_touching_intervals_share_no_age() -> None:
    """(0, 1] and (1, 2] touch but have no age in common: half fail in each."""
    curve = turnbull(counts_of([0, 0], [0, 1], [1, 2]))
    assert curve.table["mass"].to_list() == pytest.approx([0.5, 0.5])


@given(st.lists(LIFE, min_size=1, max_size=12), st.booleans())
def test_any_bounds_give_a_proven_maximum(lives: list[tuple[int, ...]], open_end: bool) -> None:
    rows = [[e, e + a, e + a + b, n] for e, a, b, n in lives if a + b > 0]
    table = np.array(rows + ([[0, 9, np.inf, 1]] if open_end or not rows else []), dtype=float)
    curve = turnbull(counts_of(*table.T))
    assert curve.violation < 1e-6
    assert curve.table["mass"].sum() == pytest.approx(1)
    assert (curve.table["mass"] > 0).all()


def test_falls_may_lie_anywhere_within_their_cell() -> None:
    curve = turnbull(counts_of([0, 0], [2, 5], [4, np.inf]))
    assert curve.survival([3.0]).tolist() == [1]
    assert curve.survival_early([3.0]) == pytest.approx([0.5])


def test_an_early_collapse_begins_the_curve_later() -> None:
    curve = turnbull(counts_of([0, 5, 5, 6, 6], [4, 9, 10, 12, 11], [4, 9, np.inf, 12, 11]))
    assert curve.begins_at == 4
    assert curve.survival([9.0, 11.0, 12.0]) == pytest.approx([0.75, 0.375, 0], abs=1e-9)
    assert curve.note == "survival is given that 4 years were reached"


def test_no_lives_and_no_failures() -> None:
    with pytest.raises(EstimateError, match="no lives"):
        turnbull(counts_of([], [], []))
    curve = turnbull(counts_of([0], [4], [np.inf], [9]))
    assert curve.table.rows() == [(4.0, np.inf, 1.0, 0.0)]
