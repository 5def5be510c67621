"""The card over the ramp on the demo: every group, readable from two metres, in grey as well."""

import math
import re

import polars as pl
import pytest

from wornby.reports.answer import Answer
from wornby.reports.ramp_card import (
    DEGRADED_ALWAYS,
    NAME_POINTS,
    VALUE_POINTS,
    draw_ramp_card,
    ramp_card_answer,
)
from wornby.reports.sentences import CAUTION_WORDS, SAFETY_CAUTION
from wornby.reports.while_open_answers import from_age
from wornby.reports.workshop import Workshop
from wornby.reports.yearly_pace import Pace

BRAKE, PIPE = "brake pipe above the axle", "coolant transfer pipe"


@pytest.fixture(scope="module")
def card(demo: Workshop) -> Answer:
    return ramp_card_answer(demo, age_years=9.0, horizon_years=3.0)


def test_the_card_has_every_component_behind_an_access_once(demo: Workshop, card: Answer) -> None:
    behind = [c.name for c in demo.catalogue.components.values() if c.access_group]
    assert sorted(card.frame["component"]) == sorted(behind)
    assert card.frame.height == card.people.height


def test_the_card_names_what_a_failed_twin_changes(card: Answer) -> None:
    # common practice, no source: the second of two pipes of one design is renewed with the first
    pipe = next(row for row in card.frame.to_dicts() if row["component"] == PIPE)
    assert pipe["with_its_twin_years"] < pipe["break_even_age_years"]
    assert "its twin has failed" in pipe["with_its_twin"]


def test_a_failed_twin_is_named_only_where_it_brings_the_renewal_forward(demo: Workshop) -> None:
    """Where a part is renewed as early by itself, its twin is no more reason."""
    old = ramp_card_answer(demo, age_years=14.0, horizon_years=3.0).frame
    alike = old.drop_nulls("with_its_twin_years")
    later = pl.col("with_its_twin_years") >= pl.col("break_even_age_years")
    assert alike.filter(later).height
    assert not any(alike.filter(later)["with_its_twin"])
    assert all(alike.filter(~later & (pl.col("component") == PIPE))["with_its_twin"])


def test_the_card_never_leaves_a_degraded_safety_part_and_carries_its_cautions(
    card: Answer,
) -> None:
    said = dict(zip(card.people["component"], card.people["and"], strict=True))
    assert DEGRADED_ALWAYS in said[BRAKE]
    assert {SAFETY_CAUTION, *(CAUTION_WORDS[n] for n in ("brakes", "hot coolant"))} <= {*card.notes}


def test_the_card_says_one_year_and_two_years(demo: Workshop) -> None:
    thermostat = demo.catalogue.component("thermostat")
    assert from_age(1.1, thermostat, Pace(7000.0, "miles"), 20.0) == "1 year"
    assert from_age(2.1, thermostat, Pace(7000.0, "miles"), 20.0) == "2 years"


def test_the_card_is_read_from_two_metres_and_in_grey(card: Answer) -> None:
    # an eye of normal sight tells letters of 5 minutes of arc (Snellen's line, from memory); a
    # capital is 0.7 of its size, a point 0.3528 mm
    least_mm = 2000 * math.radians(5 / 60)
    assert 2 * least_mm < 0.7 * 0.3528 * VALUE_POINTS
    assert 1.5 * least_mm < 0.7 * 0.3528 * NAME_POINTS
    drawing = draw_ramp_card(card)
    colours = {c.lower() for c in re.findall(r"#[0-9a-fA-F]{6}", drawing.svg)}
    assert all(c[1:3] == c[3:5] == c[5:7] for c in colours)
    assert all(row["component"] in drawing.alt for row in card.frame.to_dicts())
