"""Raking: margins met, odds ratios kept, and refusals that say why."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import ArrayLike, NDArray

from wornby.errors import EstimateError
from wornby.survey.weighting import effective_sample_size, rake

Array = NDArray[np.float64]
LARGE = [[80, 170, 150], [90, 80, 210], [10, 80, 130]]
"""Seed and margins of an example after Ardilly and Tillé, as the IPFP help page of the R package
TeachingSampling 4.1.1 gives them; it prints no result."""
LARGE_TOTALS = [[430, 360, 210], [150, 300, 550]]


def loglinear(seed: ArrayLike, totals: list[list[float]]) -> Array:
    """The same table by another road: seed times exp(row + column), found by Newton's method.

    The terms minimise the fitted sum less terms times totals, which is convex: its gradient is
    what each margin misses, and its Hessian is made of the fitted table.
    """
    start, known = np.asarray(seed, dtype=np.float64), np.concatenate(totals)
    n_rows = start.shape[0]

    def fitted(terms: Array) -> Array:
        return np.asarray(start * np.exp(terms[:n_rows, None] + terms[None, n_rows:]))

    terms = np.full(known.size, np.log(known[:n_rows].sum() / start.sum()) / 2)
    for _ in range(100):
        table = fitted(terms)
        rows, columns = table.sum(axis=1), table.sum(axis=0)
        missed = np.concatenate([rows, columns]) - known
        hessian = np.block([[np.diag(rows), table], [table.T, np.diag(columns)]])
        step = np.linalg.lstsq(hessian, missed, rcond=None)[0]
        value = table.sum() - terms @ known
        while step @ missed > 1e-12 * known.sum() and (
            fitted(terms - step).sum() - (terms - step) @ known > value
        ):
            step = step / 2
        terms = terms - step
    return fitted(terms)


def of_r(numbers: str, *shape: int) -> Array:
    """Numbers as R prints an array: first index fastest."""
    return np.array(numbers.split(), dtype=np.float64).reshape(shape, order="F")


def test_agrees_with_r_scaling_rows_and_columns() -> None:
    """Computed by R only: 5,000 rounds of rows, then columns."""
    wanted = of_r(
        """73.00821133783 69.39038866885 7.60139999332 167.6406191102 66.6492720995
        65.7101087903 189.351169552 223.960339232 136.688491216""",
        3, 3,
    )  # fmt: skip
    assert rake(LARGE, LARGE_TOTALS).table == pytest.approx(wanted, abs=1e-6)


def test_three_characteristics_agree_with_loglin_of_r() -> None:
    """Computed by R only: stats::loglin with the seed as start, eps 1e-12."""
    seed = of_r("5 1 3 2 4 6 2 7 3 3 8 1", 2, 2, 3)
    wanted = of_r(
        """47.36881745315 10.73236586668 23.87078357133 18.02803310885 20.90170921306
        35.51779460222 8.77757780544 34.80291837928 21.32324534697 24.15606751793
        47.75786661006 6.76282052505""",
        2, 2, 3,
    )  # fmt: skip
    raked = rake(seed, [[170, 130], [160, 140], [100, 100, 100]])
    assert raked.table == pytest.approx(wanted, abs=1e-6)


def test_one_characteristic_is_post_stratification() -> None:
    raked = rake([10, 40], [[300, 200]])
    assert raked.weights.tolist() == [30.0, 5.0]
    assert raked.sweeps == 1


answers = st.integers(2, 5).flatmap(
    lambda rows: st.integers(2, 5).flatmap(
        lambda columns: st.tuples(
            *(
                st.lists(st.integers(1, 40), min_size=rows * columns, max_size=rows * columns).map(
                    lambda cells: np.array(cells, dtype=np.float64).reshape(rows, columns)
                )
                for _ in range(2)
            )
        )
    )
)


def margins(table: Array) -> list[list[float]]:
    return [table.sum(axis=1).tolist(), table.sum(axis=0).tolist()]


def odds_ratios(table: Array) -> Array:
    """Of every two-by-two table of neighbours."""
    return (table[:-1, :-1] * table[1:, 1:]) / (table[:-1, 1:] * table[1:, :-1])


@given(answers)
def test_margins_are_met_and_odds_ratios_kept(tables: tuple[Array, Array]) -> None:
    """The property by which Deming and Stephan's table is defined."""
    seed, population = tables
    raked = rake(seed, margins(population))
    for axis, total in enumerate(margins(population)):
        assert raked.table.sum(axis=1 - axis) == pytest.approx(total, rel=1e-6)
    assert odds_ratios(raked.table) == pytest.approx(odds_ratios(seed), rel=1e-9)
    assert raked.table == pytest.approx(seed * raked.weights)


readiness = st.lists(st.floats(0.01, 1), min_size=5, max_size=5)


@given(answers, readiness, readiness)
def test_who_answers_by_row_and_by_column_is_undone(
    tables: tuple[Array, Array], by_row: list[float], by_column: list[float]
) -> None:
    """Where readiness to answer is a product of the two, raking gives the whole table back."""
    population, _ = tables
    n_rows, n_columns = population.shape
    answered = population * np.outer(by_row[:n_rows], by_column[:n_columns])
    assert rake(answered, margins(population)).table == pytest.approx(population, rel=1e-5)


@given(answers)
def test_agrees_with_the_loglinear_fit(tables: tuple[Array, Array]) -> None:
    seed, population = tables
    wanted = loglinear(seed, margins(population))
    assert rake(seed, margins(population)).table == pytest.approx(wanted, rel=1e-5)


@given(answers, st.data())
def test_cells_without_answers_stay_empty(tables: tuple[Array, Array], data: st.DataObject) -> None:
    """Empty in the population too, so that a table with these margins exists."""
    seed, population = tables
    row = data.draw(st.integers(0, seed.shape[0] - 1))
    column = data.draw(st.integers(0, seed.shape[1] - 1))
    seed[row, column] = population[row, column] = 0
    raked = rake(seed, margins(population))
    assert raked.table[row, column] == 0
    assert raked.weights[row, column] == 0
    assert raked.table.sum(axis=1) == pytest.approx(population.sum(axis=1), rel=1e-6)


@given(answers, st.floats(0.01, 100))
def test_more_answers_in_the_same_shares_change_no_table(
    tables: tuple[Array, Array], times: float
) -> None:
    seed, population = tables
    once, more = (rake(s, margins(population)).table for s in (seed, times * seed))
    assert once == pytest.approx(more, rel=1e-9)


def test_a_group_that_is_known_and_silent_is_refused() -> None:
    with pytest.raises(EstimateError, match=r"margin 2, category 2: 90 known and nobody answered"):
        rake([[6, 0], [3, 0]], [[120, 80], [110, 90]])


def test_margins_of_different_wholes_are_refused() -> None:
    with pytest.raises(EstimateError, match=r"add up to 200 and 210: wanted one and the same"):
        rake([[6, 2], [3, 9]], [[120, 80], [100, 110]])


def test_totals_that_empty_cells_cannot_meet_are_refused() -> None:
    """60 of the first row have no place but the first column, which is to hold 50."""
    with pytest.raises(EstimateError, match="did not settle"):
        rake([[6, 0], [3, 9]], [[60, 40], [50, 50]])


def test_a_table_reached_only_in_the_limit_is_refused() -> None:
    """The only table with these margins empties a cell that has answers: gaps shrink as 1/n."""
    with pytest.raises(EstimateError, match="did not settle"):
        rake([[6, 0], [3, 9]], [[50, 50], [50, 50]])


def test_nothing_on_the_road_is_refused() -> None:
    with pytest.raises(EstimateError, match="adds up to 0"):
        rake([[6, 2], [3, 9]], [[0, 0], [0, 0]])


@pytest.mark.parametrize(
    ("seed", "totals"),
    [
        ([[6, 2], [3, 9]], [[120, 80]]),
        ([[6, 2], [3, 9]], [[120, 80], [100, 50, 50]]),
        ([[6, -2], [3, 9]], [[120, 80], [100, 100]]),
        ([[6, 2], [3, 9]], [[np.nan, 80], [100, 100]]),
        ([], []),
    ],
)
def test_tables_that_do_not_fit_are_the_callers_mistake(
    seed: list[float], totals: list[Array]
) -> None:
    with pytest.raises(ValueError, match="wanted"):
        rake(seed, totals)


weights = st.lists(st.floats(0, 1e6), min_size=1, max_size=50).filter(any)


@given(weights)
def test_unequal_weights_are_worth_no_more_than_their_number(given_weights: list[float]) -> None:
    size = effective_sample_size(given_weights)
    assert 1 - 1e-9 <= size <= len(given_weights) + 1e-9


@given(st.integers(1, 200), st.floats(1e-6, 1e6))
def test_equal_weights_are_worth_their_number(n: int, weight: float) -> None:
    assert effective_sample_size([weight] * n) == pytest.approx(n)


def test_effective_sample_size_is_as_kish_has_it() -> None:
    """(1 + 2 + 3 + 4)^2 / (1 + 4 + 9 + 16); Kish 1965, the formula from memory."""
    assert effective_sample_size([1, 2, 3, 4]) == pytest.approx(100 / 30)


def test_no_weight_at_all_is_refused() -> None:
    with pytest.raises(EstimateError, match="no answer has a weight"):
        effective_sample_size([0.0, 0.0])
    with pytest.raises(EstimateError, match="no answer has a weight"):
        effective_sample_size([])
    with pytest.raises(ValueError, match="from 0 up"):
        effective_sample_size([1.0, -1.0])
