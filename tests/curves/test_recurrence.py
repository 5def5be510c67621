"""Mean cumulative function: small stories, and limits that mean what they say.

Published values are in tests/published/.
"""

import numpy as np
import polars as pl
import pytest

from wornby.curves.recurrence import mean_cumulative_function
from wornby.errors import HistoryError


def history(rows: list[tuple[str, float, float, bool]]) -> pl.DataFrame:
    return pl.DataFrame(rows, schema=["vehicle", "entry", "age", "failed"], orient="row")


def test_a_vehicle_counts_only_while_it_is_watched() -> None:
    """a is watched over (0, 10], b over (4, 8]; a fails at 3 and 6, b at 6."""
    rows = [("a", 0, 3, True), ("a", 0, 6, True), ("a", 0, 10, False)]
    rows += [("b", 4, 6, True), ("b", 4, 8, False)]
    table = mean_cumulative_function(history([(*r,) for r in rows]), confidence=0.9).table
    assert table["at_risk"].to_list() == [1, 2]
    assert table["mean"].to_list() == [1, 2]


def test_robust_limits_hold_where_some_vehicles_are_lemons() -> None:
    """Rates vary by vehicle, so failures cluster: 90 % limits must still hold about 90 %."""
    rng = np.random.default_rng(8)
    held = {"robust": 0, "poisson": 0}
    for _ in range(200):
        counts = rng.poisson(rng.gamma(1.0, 2.0, 60))
        rows = [(str(i), 0.0, float(t), True) for i, n in enumerate(counts) for t in rng.random(n)]
        rows += [(str(i), 0.0, 1.0, False) for i in range(60)]
        for variance in ("robust", "poisson"):
            curve = mean_cumulative_function(history(rows), confidence=0.9, variance=variance)
            last = curve.table.row(-1, named=True)
            held[variance] += last["lower"] <= 2.0 <= last["upper"]
    assert 170 <= held["robust"] <= 192
    assert held["poisson"] < 150


def test_a_vehicle_without_an_end_is_refused() -> None:
    with pytest.raises(HistoryError, match="vehicle a: no row says when its watch ended"):
        mean_cumulative_function(history([("a", 0, 3, True)]), confidence=0.9)


def test_a_failure_outside_the_watch_is_refused() -> None:
    rows = history([("a", 0, 12, True), ("a", 0, 10, False)])
    with pytest.raises(HistoryError, match="a failure outside its watch from 0 to 10"):
        mean_cumulative_function(rows, confidence=0.9)


def test_no_failure_gives_an_empty_table_and_nought() -> None:
    curve = mean_cumulative_function(history([("a", 0, 10, False)]), confidence=0.9)
    assert curve.table.height == 0
    assert curve.mean([1.0, 9.0]).tolist() == [0, 0]


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ((None, 0.0, 3.0, True), "no vehicle, age or failed"),
        (("a", 0.0, np.nan, True), "an age is not a finite number"),
        (("a", 0.0, -3.0, False), "an age is negative"),
        (("b", 1.0, 3.0, True), "its vehicle has another entry elsewhere"),
        (("c", 7.0, 5.0, False), "vehicle c: its watch ends at 5, before it begins at 7"),
    ],
)
def test_a_row_that_cannot_be_is_named(row: tuple[str, float, float, bool], why: str) -> None:
    rows = history([("b", 0.0, 4.0, True), ("b", 0.0, 9.0, False), row])
    with pytest.raises(HistoryError, match=why):
        mean_cumulative_function(rows, confidence=0.9)
