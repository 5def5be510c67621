"""A short run of the coverage study.

90 % intervals of the B10 life and of a year's chance should hold the truth in 87 to 93 % of data
sets wherever 20 failures or more are expected.
"""

import numpy as np
import polars as pl
import pytest

from .coverage import Cell, coverage


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
