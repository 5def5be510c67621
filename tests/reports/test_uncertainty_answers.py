"""Three ways to an interval, and bands by part and by vehicle."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from wornby.curves.components import component_curves
from wornby.curves.uncertainty import Estimate
from wornby.reports.answer import Answer
from wornby.reports.band_answers import band_answer
from wornby.reports.ending_answers import ending_answer
from wornby.reports.life_answers import life_answer, weibull_answer
from wornby.reports.uncertainty_answers import Doubt, _parting, interval_answer
from wornby.reports.workshop import Workshop

TRUTH = pl.read_csv(Path(__file__).parents[2] / "data_demo" / "truth" / "lives.csv")


@pytest.fixture(scope="module")
def intervals(demo: Workshop) -> Answer:
    """The demo's intervals."""
    return interval_answer(demo)


def only(workshop: Workshop, component: str) -> Workshop:
    """The workshop with the curve of one original component."""
    return replace(workshop, original={component: workshop.original[component]})


def test_the_profile_is_that_of_the_life_answer(demo: Workshop, intervals: Answer) -> None:
    lives = life_answer(demo).frame
    b10 = intervals.frame.filter(pl.col("asked") == "b10")
    assert b10["profile_lower"].to_list() == lives["b10_lower"].to_list()
    assert b10["profile_upper"].to_list() == lives["b10_upper"].to_list()


def test_the_methods_agree_where_many_failed(intervals: Answer) -> None:
    pump = intervals.frame.filter(pl.col("component") == "clutch slave cylinder")
    for row in pump.to_dicts():
        width = row["profile_upper"] - row["profile_lower"]
        assert row["wald_upper"] - row["wald_lower"] == pytest.approx(width, rel=0.2)
        assert row["bootstrap_upper"] - row["bootstrap_lower"] == pytest.approx(width, rel=0.25)


def test_resampling_holds_the_true_b10_lives(intervals: Answer) -> None:
    """By chance one in ten lies outside."""
    originals = TRUTH.filter(pl.col("origin") == "original")
    frame = intervals.frame.filter(pl.col("asked") == "b10").join(originals, on="component")
    truth = frame["scale_value"].to_numpy() * (-np.log(0.9)) ** (1 / frame["shape"].to_numpy())
    inside = (frame["bootstrap_lower"] <= truth) & (frame["bootstrap_upper"] >= truth)
    assert frame.height == len(originals)
    assert inside.sum() >= frame.height - 4


def test_the_same_seed_draws_the_same_vehicles(demo: Workshop, intervals: Answer) -> None:
    pump = intervals.frame.filter(pl.col("component") == "water pump")["bootstrap_lower"]
    again, other = (
        interval_answer(only(workshop, "water pump")).frame["bootstrap_lower"]
        for workshop in (demo, replace(demo, seed=2))
    )
    assert again.to_list() == pump.to_list()
    assert other.to_list() != pump.to_list()


def test_too_few_failures_leave_the_credible_interval_alone(demo: Workshop) -> None:
    table = demo.episodes.table
    valve = (pl.col("component") == "heater valve") & (pl.col("origin") == "original")
    few = pl.concat(
        [table.filter(valve & ~pl.col("failed")), table.filter(valve, "failed").head(2)]
    )
    made = replace(demo.episodes, table=few)
    curves = component_curves(made, {"heater valve": "years"}, origin="original", confidence=0.9)
    answer = interval_answer(replace(demo, episodes=made, original=curves))
    people = answer.people.row(0, named=True)
    assert people["Wald"] == "too few failed to fit a curve"
    assert "failures in 2 vehicles" in people["resampled vehicles"]
    assert answer.frame["profile_lower"][0] is not None


def test_two_like_parts_a_vehicle_tell_no_more_than_one(demo: Workshop) -> None:
    """Every part twice, always ending together: by part the band shrinks by the root of two."""
    one = only(demo, "clutch slave cylinder")
    twice = replace(demo.episodes, table=pl.concat([demo.episodes.table] * 2))
    single, double = (
        band_answer(workshop).frame.row(0, named=True)
        for workshop in (one, replace(one, episodes=twice))
    )
    assert double["vehicles"] == single["vehicles"]
    assert double["share_failed"] == pytest.approx(single["share_failed"])
    assert double["by_vehicle_lower"] == pytest.approx(single["by_vehicle_lower"])
    assert single["width_ratio"] == pytest.approx(1.0, abs=0.1)
    assert double["width_ratio"] == pytest.approx(single["width_ratio"] * np.sqrt(2), rel=0.05)


def interval(lower: float, upper: float, unit: str = "years") -> Estimate:
    return Estimate((lower + upper) / 2, lower, upper, 0.9, unit)


def test_ends_that_part_are_named_though_widths_agree() -> None:
    """1.4 to 7.0 against 2.4 to 8.6 is as wide but for a tenth, and is not alike."""
    moved = Doubt("bush", "b10", interval(1.4, 7.0), interval(2.4, 8.6), interval(1.5, 7.2))
    told = _parting(moved).replace("\u00a0", " ")
    assert told == "Wald: lower end +36 %, upper end +57 %"
    alike = replace(moved, wald=interval(1.5, 7.2))
    assert _parting(alike) == "alike"
    endless = replace(moved, profile=interval(0.0, 7.0))
    assert _parting(endless) == "the profile has no lower limit"


def test_what_the_likelihood_does_not_bound_is_said(demo: Workshop, intervals: Answer) -> None:
    valve = intervals.people.filter(pl.col("component") == "heater valve").row(0, named=True)
    assert valve["profile"].startswith("no lower limit, up to ")
    curve = weibull_answer(demo).people.filter(pl.col("component") == "heater valve")
    assert curve["shape (interval)"].item().startswith("0.99 (no lower limit, up to ")


def test_who_was_watched_first_and_at_b10_is_told(demo: Workshop) -> None:
    """At risk at B10, counted one by one: entered before that age and ended at it or later."""
    told = weibull_answer(demo).frame
    for row in told.to_dicts():
        curve = demo.original[row["component"]]
        entry, lower, _, count = curve.counts.columns()
        assert curve.weibull is not None
        b10 = curve.weibull.b_life(0.1)
        assert row["first_watched"] == entry.min() > 0
        assert row["at_risk_at_b10"] == count[(entry < b10) & (lower >= b10)].sum()


def test_shares_failed_say_from_when_they_were_watched(demo: Workshop) -> None:
    for answer in (band_answer(demo), ending_answer(demo)):
        assert any("Nobody was watched before 2.1 years or" in note for note in answer.notes)
        assert (answer.frame["first_watched"] > 2).all()


def test_every_component_has_its_row(demo: Workshop, intervals: Answer) -> None:
    assert intervals.people.height == intervals.frame.height == 2 * len(demo.original)
    bands = band_answer(demo)
    assert bands.people["component"].to_list() == list(demo.original)
    assert (bands.frame["greenwood_lower"] <= bands.frame["share_failed"]).all()
