"""How parts end, on stories counted by hand and against the demo's truth."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from wornby.curves.endings_by_age import ENDINGS, ending_shares
from wornby.errors import EstimateError
from wornby.reports.ending_answers import ending_answer
from wornby.reports.workshop import Workshop

TRUTH = pl.read_csv(Path(__file__).parents[2] / "data_demo" / "truth" / "lives.csv")


def lives(rows: list[tuple[float, float, str]]) -> pl.DataFrame:
    """Parts of a vehicle each: entry, exit and how it ended."""
    frame = pl.DataFrame(rows, schema=["entry", "lower", "ending"], orient="row")
    return frame.with_row_index("vehicle").with_columns(count=pl.lit(1.0))


def told(rows: list[tuple[float, float, str]], age: float) -> dict[str, float | None]:
    found = ending_shares(lives(rows), age=age, unit="years", what="pump", confidence=0.9)
    shares = {name: share.value for name, share in found.shares.items()}
    return shares | {"alone": found.alone.value, "at risk": found.at_risk}


FOUR = [
    (0.0, 1.0, "failure"),
    (0.0, 2.0, "preventive renewal"),
    (0.0, 3.0, "failure"),
    (0.0, 4.0, "in service"),
]


def test_a_part_renewed_early_can_no_longer_fail() -> None:
    """By hand: 1/4 fail at 1, 1/4 are renewed at 2, half of the half left fail at 3."""
    found = told(FOUR, 3.5)
    assert found["failed"] == pytest.approx(1 / 4 + 1 / 2 * 1 / 2)
    assert found["renewed early"] == pytest.approx(1 / 4)
    assert found["alone"] == pytest.approx(1 - 3 / 4 * 1 / 2)
    assert found["at risk"] == 1


def test_a_part_that_came_late_is_not_counted_before() -> None:
    """By hand: a part seen from 2.5 on makes three at risk at 3, not two."""
    found = told([*FOUR, (2.5, 5.0, "in service")], 3.5)
    assert found["failed"] == pytest.approx(1 / 4 + 1 / 2 * 1 / 3)
    assert found["alone"] == pytest.approx(1 - 3 / 4 * 2 / 3)


def test_where_nothing_else_ends_a_part_both_ways_agree() -> None:
    found = told([(0.0, age, "failure") for age in (1.0, 2.0, 3.0)] + [(0.0, 9.0, "in service")], 4)
    assert found["failed"] == pytest.approx(3 / 4)
    assert found["alone"] == found["failed"]


def test_none_seen_is_a_bound() -> None:
    """Ten watched throughout and none degraded: at most 1 - 0.1^(1/10), by hand 21 %."""
    found = ending_shares(
        lives([(0.0, 9.0, "in service")] * 10), age=5.0, unit="years", what="", confidence=0.9
    )
    share = found.shares["found degraded"]
    assert (share.value, share.lower) == (None, 0.0)
    assert share.upper == pytest.approx(0.2057, abs=5e-5)


def test_an_age_that_nobody_reached_is_refused_with_its_reason() -> None:
    found = ending_shares(lives(FOUR), age=40.0, unit="years", what="pump", confidence=0.9)
    assert found.reason == "nobody watched at 40 years"
    assert all(share.value is None for share in found.shares.values())


def test_the_shares_never_make_more_than_the_whole(demo: Workshop) -> None:
    frame = ending_answer(demo).frame
    columns = [f"{ending.replace(' ', '_')}_share_value" for ending in ENDINGS]
    assert (frame.select(pl.sum_horizontal(columns)).to_series() <= 1 + 1e-9).all()
    assert (frame["failure_alone_share_value"] >= frame["failure_share_value"] - 1e-9).all()


def test_belts_renewed_when_due_seldom_live_to_fail(demo: Workshop) -> None:
    """The demo's truth: belts are renewed by the book, so few of the failures to come come."""
    frame = ending_answer(demo).frame
    belt = frame.row(by_predicate=pl.col("component") == "timing belt", named=True)
    assert belt["preventive_renewal_share_value"] > 0.5
    assert belt["failure_alone_share_value"] > 1.5 * belt["failure_share_value"]


def test_one_less_kaplan_meier_is_the_truth_of_parts_left_to_fail(demo: Workshop) -> None:
    """Of components without degraded findings; by chance one in ten lies outside."""
    originals = TRUTH.filter(pl.col("origin") == "original")
    frame = ending_answer(demo).frame.join(originals, on="component")
    plain = frame.filter(pl.col("degraded_finding_share_value").is_null())
    truth = -np.expm1(-((plain["age"] / plain["scale_value"]).to_numpy() ** plain["shape"]))
    inside = (plain["failure_alone_share_lower"] <= truth) & (
        plain["failure_alone_share_upper"] >= truth
    )
    assert plain.height >= 6
    assert inside.sum() >= plain.height - 2


def test_a_component_never_watched_keeps_its_row(demo: Workshop) -> None:
    table = demo.episodes.table
    without = table.filter(pl.col("component") != "water pump")
    answer = ending_answer(replace(demo, episodes=replace(demo.episodes, table=without)))
    assert answer.people.height == answer.frame.height == len(demo.catalogue.components)
    pump = answer.people.row(by_predicate=pl.col("component") == "water pump", named=True)
    assert pump["note"] == "none watched"
    nothing = replace(demo, episodes=replace(demo.episodes, table=table.clear()))
    with pytest.raises(EstimateError, match="no original part"):
        ending_answer(nothing)
