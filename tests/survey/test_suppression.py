"""Which cells of small tables go, on tables that can be checked by hand."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import ArrayLike, NDArray

from wornby.survey.left_open import RoundedShare, hidden
from wornby.survey.suppression import Figures, figures_shown, suppressed


def two_way(table: ArrayLike, *, least: int = 5, totals_cost: float = 50) -> Figures:
    """A table with its margins and grand total; totals are dear."""
    cells = np.asarray(table, dtype=np.float64)
    n, m = cells.shape
    by_row, by_column = np.kron(np.eye(n), np.ones(m)), np.kron(np.ones(n), np.eye(m))
    rows = np.vstack([np.eye(n * m), by_row, by_column, np.ones(n * m)])
    told = rows @ cells.ravel()
    cost = np.append(np.log1p(cells.ravel()), np.full(n + m + 1, totals_cost))
    known = np.zeros((1, n * m))
    small = (told > 0) & (told < least)
    return figures_shown(rows, cells.ravel(), small=small, cost=cost, known=known)


def withheld_cells(table: list[list[int]], **asked: float) -> NDArray[np.bool_]:
    shown = two_way(table)
    gone = suppressed(shown, protection=int(asked.get("protection", 4)))
    return gone[: np.size(table)].reshape(np.shape(table))


def test_a_table_without_small_cells_is_shown_whole() -> None:
    assert not suppressed(two_way([[9, 8], [7, 6]]), protection=4).any()


def test_one_small_cell_takes_the_cheapest_square_with_it() -> None:
    """3 is small: of 20 or 40 beside and 6 or 50 below, the square with 20, 6 and 9 is least."""
    assert withheld_cells([[3, 20, 40], [6, 9, 30], [50, 60, 70]]).tolist() == [
        [True, True, False],
        [True, True, False],
        [False, False, False],
    ]


def test_two_small_cells_on_a_diagonal_share_one_square() -> None:
    assert withheld_cells([[4, 30, 9], [30, 4, 9], [90, 90, 90]]).tolist() == [
        [True, True, False],
        [True, True, False],
        [False, False, False],
    ]


def test_who_guesses_that_two_are_small_still_has_two_numbers_for_each() -> None:
    """By hand: two numbers from 1 to 4 that sum to 8 can only be 4 and 4; a third opens them."""
    line = np.array([4.0, 4.0, 9.0, 40.0])
    rows = np.vstack([np.eye(4), np.ones(4)])
    careless = figures_shown(
        rows, line, small=[1, 1, 0, 0, 0], cost=[1, 1, 2, 4, 50], known=np.zeros((1, 4))
    )
    careful = replace(careless, guessed_most=4)
    two = np.array([1, 1, 0, 0, 0], dtype=bool)
    assert suppressed(careless, protection=4).tolist() == two.tolist()
    assert hidden(careless, two, protection=4)
    assert not hidden(careful, two, protection=4)
    withheld = suppressed(careful, protection=4)
    assert withheld.tolist() == [True, True, True, False, False]
    assert hidden(careful, withheld, protection=4)


def test_two_small_cells_of_a_row_that_sum_to_two_are_not_enough_by_themselves() -> None:
    """1 + 1 leaves each between 0 and 2: less than 4 apart, so that a third goes with them."""
    line = np.array([1.0, 1.0, 8.0, 40.0])
    rows = np.vstack([np.eye(4), np.ones(4)])
    shown = figures_shown(
        rows, line, small=[1, 1, 0, 0, 0], cost=[1, 1, 2, 4, 50], known=np.zeros((1, 4))
    )
    assert suppressed(shown, protection=4).tolist() == [True, True, True, False, False]
    assert not hidden(shown, np.array([1, 1, 0, 0, 0], dtype=bool), protection=4)
    assert hidden(shown, np.array([1, 1, 0, 0, 0], dtype=bool), protection=2)


def test_where_nothing_can_hide_it_all_is_withheld() -> None:
    """One cell, and anybody knows how many there are: its total goes too, and all besides."""
    shown = figures_shown([[1.0]], [3.0], small=[1], cost=[1], known=np.ones((1, 1)))
    assert suppressed(shown, protection=4).tolist() == [True]


def test_the_table_of_the_textbooks() -> None:
    """Three activities by three regions with margins: the cell of 22 is hidden by a square.

    The classical example of the cell suppression problem: investment by activity and region, one
    cell of 22 sensitive (Fischetti & Salazar 2001, after Willenborg & de Waal 1996; numbers and
    the square of four cells recalled from memory). The width asked for is ours.
    """
    table = [[20, 50, 10], [8, 19, 22], [17, 32, 12]]
    shown = two_way(table, least=0)
    sensitive = np.zeros_like(shown.small)
    sensitive[5] = True
    shown = figures_shown(
        shown.rows, shown.truth, small=sensitive, cost=shown.values, known=shown.known
    )
    gone = suppressed(shown, protection=13)
    assert gone.sum() == 4
    assert gone[5]
    assert not gone[9:].any()
    assert hidden(shown, gone, protection=13)


def test_a_finely_rounded_share_can_give_a_cell_away() -> None:
    """5 of 8 weigh ten times the others: the share tells who of them had it renewed."""
    cells = np.array([1.0, 4.0, 4.0, 1.0])
    rows = np.array([[1, 1, 0, 0], [0, 0, 1, 1], [1, 0, 1, 0], [0, 1, 0, 1], [1, 0, 0, 0.0]])
    shown = figures_shown(
        rows, cells, small=[0, 0, 0, 0, 1], cost=np.ones(5), known=np.zeros((1, 4))
    )
    gone = np.array([False, False, False, False, True])
    assert hidden(shown, gone, protection=4)
    part, whole = np.array([10.0, 0.0, 1.0, 0.0]), np.array([10.0, 10.0, 1.0, 1.0])
    share = float(part @ cells / (whole @ cells))
    fine = RoundedShare(part, whole, round(share, 2), 0.01)
    assert not hidden(shown, gone, protection=4, share=fine)
    assert hidden(shown, gone, protection=4, share=RoundedShare(part, whole, 0.5, 1.0))


@settings(max_examples=40)
@given(st.lists(st.lists(st.integers(0, 9), min_size=3, max_size=3), min_size=2, max_size=3))
def test_fillings_counted_out_leave_each_small_cell_open(table: list[list[int]]) -> None:
    """By brute force over all whole numbers, where no more than four cells are withheld."""
    shown = two_way(table)
    gone, n = suppressed(shown, protection=2), np.size(table)
    free = np.flatnonzero(gone[:n])
    if not 0 < free.size <= 4 or gone[n:].any():
        return
    most = int(shown.truth[free].sum())
    values = np.indices((min(most, 15) + 1,) * free.size).reshape(free.size, -1)
    cells = np.repeat(shown.truth[:, None], values.shape[1], axis=1)
    cells[free] = values
    kept = shown.rows[~gone]
    agree = (kept @ cells == (kept @ shown.truth)[:, None]).all(axis=0)
    assert (np.ptp(cells[np.flatnonzero(shown.small[:n])][:, agree], axis=1) >= 2).all()


def test_what_contradicts_itself_is_no_table() -> None:
    shown = two_way([[9, 8], [7, 6]])
    wrong = RoundedShare(np.eye(4)[0], np.ones(4), 0.9, 0.01)
    gone = np.zeros_like(shown.small)
    gone[0] = True
    with pytest.raises(AssertionError, match="contradicts itself"):
        hidden(shown, gone, protection=4, share=wrong)
