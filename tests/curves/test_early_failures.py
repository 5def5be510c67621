"""Comebacks by grade and months, on a story small enough to count by hand."""

from datetime import date

import polars as pl
import pytest

from wornby.curves.early_failures import comebacks
from wornby.tables import EPISODES


def episode(grade: str, days: int, failed: bool, origin: str = "renewed") -> dict[str, object]:
    return {
        "vehicle": "a",
        "version": "short",
        "component": "water pump",
        "position": "",
        "origin": origin,
        "grade": grade,
        "entered_on": date(2010, 1, 1),
        "exited_on": date(2011, 1, 1),
        "entry_days": 0,
        "exit_days": days,
        "entry_mi": None,
        "exit_mi": None,
        "ending": "failure" if failed else "in service",
        "failed": failed,
        "weight": 1.0,
    }


def test_each_grade_is_followed_from_fitting() -> None:
    """Four cheap pumps: one fails at 100 days, one leaves at 200, one fails at 300, one stays."""
    rows = [
        episode("cheap", d, f) for d, f in [(100, True), (200, False), (300, True), (900, False)]
    ]
    rows += [episode("genuine", 900, False), episode("genuine", 50, True, origin="original")]
    frame = pl.DataFrame(rows, schema=EPISODES.schema())
    table = comebacks(frame, months=[6, 12], confidence=0.9)
    cheap = table.filter(pl.col("grade") == "cheap")
    assert cheap["share"].to_list() == pytest.approx([1 / 4, 1 - 3 / 4 * 1 / 2])
    assert cheap["at_risk"].to_list() == [3, 1]
    assert cheap["failures"].to_list() == [1, 2]
    genuine = table.filter(pl.col("grade") == "genuine")
    assert genuine["share"].to_list() == [0, 0]
    assert genuine["lower"].to_list() == [0, 0]
    assert genuine["upper"].to_list() == pytest.approx([0.9, 0.9])


def test_the_more_followed_without_a_failure_the_lower_the_bound() -> None:
    """Of 22 followed without a failure: 1 - 0.1^(1/22), an exact binomial bound, by hand."""
    rows = [episode("genuine", 900, False) for _ in range(22)]
    table = comebacks(pl.DataFrame(rows, schema=EPISODES.schema()), months=[12, 48], confidence=0.9)
    assert table["upper"].to_list() == pytest.approx([0.0994, 1.0], abs=5e-5)
