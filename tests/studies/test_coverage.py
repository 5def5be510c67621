"""The coverage study: its kept table, and a short run of it.

90 % intervals of the B10 life and of a year's chance should hold the truth in 87 to 93 % of data
sets wherever 20 failures or more are expected.
"""

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from .coverage import CELLS, Cell, coverage

TABLE = Path(__file__).parent / "coverage.csv"


def test_a_short_run_holds_about_nine_times_in_ten() -> None:
    """Four cells of 100 data sets, so 800 intervals: within four standard errors."""
    cells = [
        Cell(100, 20, 2.0, True, True),
        Cell(30, 20, 4.0, False, False),
        Cell(100, 20, 0.8, True, False),
        Cell(1000, 100, 2.0, False, True),
    ]
    rng = np.random.default_rng(7)
    rows = [row for cell in cells for row in coverage(cell, n=100, rng=rng)]
    held = pl.DataFrame(rows)["held"].to_numpy()
    assert held.mean() == pytest.approx(0.9, abs=4 * np.sqrt(0.09 / 800))


def test_the_kept_table_has_every_cell_twice() -> None:
    table = pl.read_csv(TABLE)
    assert table.height == 2 * len(CELLS)
    assert (table["data_sets"] == 1000).all()


def test_intervals_hold_where_there_are_twenty_failures() -> None:
    table = pl.read_csv(TABLE).filter(pl.col("failures") >= 20)
    outside = table.filter(~pl.col("held").is_between(0.87, 0.93))
    assert outside.is_empty(), outside
    assert (table["fitted"] > 0.99).all()
