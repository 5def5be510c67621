"""What lies where nothing was seen is marked in each answer that shows it, text and frame."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from wornby.curves.components import ComponentCurve, curve_of
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.curves.versions import version_lives
from wornby.histories.counts import Counts
from wornby.reports.answer import Answer
from wornby.reports.fit_answers import rivals_answer
from wornby.reports.life_answers import life_answer, ready_lives_answer
from wornby.reports.rule_answers import rule_answer, sensitivity_answer
from wornby.reports.uncertainty_answers import interval_answer
from wornby.reports.workshop import Workshop

PUMP = "water pump"


def pumps(failed: Sequence[float], *, in_service: int, until: float) -> ComponentCurve:
    """Pumps watched from new; those that did not fail are in service at `until`."""
    ends = np.array([*failed, *[until] * in_service])
    upper = np.where(np.arange(ends.size) < len(failed), ends, np.inf)
    table = pl.DataFrame({"entry": 0.0, "lower": ends, "upper": upper, "count": 1.0})
    counts = Counts(table, "years", PUMP, "as watched")
    return curve_of(PUMP, counts, origin="original", confidence=0.9)


def of(workshop: Workshop, curve: ComponentCurve) -> Workshop:
    """The workshop as if it watched its pumps only, and those with this curve."""
    only = {PUMP: workshop.catalogue.component(PUMP)}
    catalogue = replace(workshop.catalogue, components=only)
    records = replace(workshop.records, catalogue=catalogue)
    return replace(workshop, records=records, original={PUMP: curve})


def cell(answer: Answer, column: str) -> str:
    return str(answer.people.row(by_predicate=pl.col("component") == PUMP, named=True)[column])


@pytest.fixture(scope="module")
def far(demo: Workshop) -> Workshop:
    """Eight of 300 failed by three years: one in ten lies far beyond."""
    return of(demo, pumps([1.0, 1.4, 1.9, 2.2, 2.4, 2.6, 2.8, 3.0], in_service=292, until=3.5))


def test_the_life_answer_marks_life_and_chance(demo: Workshop, far: Workshop) -> None:
    row = life_answer(far).frame.row(0, named=True)
    assert "beyond the last failure at 3 years: extrapolated" in row["note"]
    assert "beyond the longest watch at 3.5 years: extrapolated" in row["chance_note"]
    assert cell(life_answer(far), "note") == "beyond the last failure: extrapolated"
    assert cell(life_answer(far), "chance of failing in 12 months").endswith(", extrapolated")
    few = of(demo, pumps([2.0, 3.0], in_service=60, until=3.5))
    assert cell(life_answer(few), "note") == "few failures; beyond the last failure: extrapolated"


def test_within_reach_nothing_is_marked(demo: Workshop) -> None:
    seen = of(demo, pumps([float(age) for age in range(3, 25)], in_service=10, until=25.0))
    for answer in (life_answer(seen), interval_answer(seen), rivals_answer(seen, PUMP)):
        assert "extrapolated" not in repr(answer)
        assert "extrapolated" not in answer.as_json()


def test_the_intervals_keep_the_mark(far: Workshop) -> None:
    answer = interval_answer(far)
    assert answer.frame["note"].str.contains("extrapolated").all()
    assert answer.people["estimate"].str.ends_with(", extrapolated").all()


def test_rivals_beyond_the_last_failure_are_marked(far: Workshop) -> None:
    answer = rivals_answer(far, PUMP)
    reached = answer.frame.filter(pl.col("b10") > 3.0)
    assert reached["note"].str.contains("extrapolated").all()
    weibull = answer.people.row(by_predicate=pl.col("curve") == "Weibull", named=True)
    assert weibull["B10 life"].endswith(" years, extrapolated")
    assert answer.notes[0].count("extrapolated") == 2


def test_versions_are_marked_alone_and_together() -> None:
    """None lasted to its B50 life; of the longs, none to its own B10."""
    ends = [2.0, 2.5, 3.0, *[3.5] * 60, 1.0, 1.5, *[2.0] * 60]
    failed = [*[True] * 3, *[False] * 60, *[True] * 2, *[False] * 60]
    frame = pl.DataFrame({"lower": ends, "failed": failed}).with_columns(
        entry=pl.lit(0.0),
        upper=pl.when("failed").then("lower").otherwise(float("inf")),
        version=pl.when(pl.int_range(pl.len()) < 63)
        .then(pl.lit("short"))
        .otherwise(pl.lit("long")),
        count=pl.lit(1.0),
    )
    lives = frame.with_row_index("vehicle")
    told = version_lives(lives, PUMP, unit="years", confidence=0.9, prior=CAR_COMPONENT)
    for life in told:
        assert life.own is not None
        last = 1.5 if life.version == "long" else 3.0
        assert ("extrapolated" in life.own_note) == (life.own > last)
        assert life.pooled.value is not None
        assert ("extrapolated" in life.pooled.note) == (life.pooled.value > 3.0)
    assert all(life.own_note for life in told)


def test_rules_keep_the_marks_of_lives_shares_and_chances(demo: Workshop) -> None:
    answer = sensitivity_answer(demo, PUMP, age=60.0)
    for quantity, column in (("share_failed", "share failed"), ("chance", "chance in 12 months")):
        assert answer.frame[f"{quantity}_note"].str.contains("extrapolated").all()
        assert answer.people[column].str.ends_with(", extrapolated").all()
    marked = answer.frame["b10_note"].str.contains("extrapolated")
    assert (answer.people["B10 life"].str.contains("extrapolated") == marked).all()


def test_the_rules_side_by_side_mark_the_life_in_force(far: Workshop) -> None:
    answer = rule_answer(far)
    assert cell(answer, "in force").endswith(", extrapolated")
    told = answer.frame.row(by_predicate=pl.col("component") == PUMP, named=True)
    assert "in force: beyond the last failure at 3 years: extrapolated" in told["note"]


def test_ready_made_lives_are_marked() -> None:
    lives = pl.DataFrame(
        {
            "component": "pump",
            "unit": "hours",
            "entry": 0.0,
            "lower": [100.0, 140.0, 190.0, 220.0, 240.0, 350.0],
            "upper": [100.0, 140.0, 190.0, 220.0, 240.0, None],
            "ending": [*["failure"] * 5, "in service"],
            "count": [*[1] * 5, 300],
        }
    )
    answer = ready_lives_answer(lives, confidence=0.9)
    assert "extrapolated" in str(answer.people["note"][0])
    assert "extrapolated" in str(answer.frame["note"][0])
