"""One component's life as an analyst asks for it, and the panel that asks."""

from dataclasses import replace

import pytest

from wornby.reports.asked_life import (
    ALL_VERSIONS,
    AskedLife,
    asked_curve,
    asked_life_answer,
    rules_to_ask,
    versions_seen,
)
from wornby.reports.life_answers import b10_life
from wornby.reports.panel import life_panel, shown_life
from wornby.reports.workshop import Workshop


def test_the_life_asked_for_in_force_is_the_one_that_every_answer_tells(demo: Workshop) -> None:
    curve = asked_curve(demo, AskedLife("water pump", "age"))

    told = b10_life(demo.original["water pump"], confidence=demo.confidence)
    assert b10_life(curve, confidence=demo.confidence) == told


def test_versions_share_out_what_all_of_them_watched(demo: Workshop) -> None:
    parts = [
        asked_curve(demo, AskedLife("water pump", "age", version=version)).counts.n_lives
        for version in versions_seen(demo)
    ]

    assert versions_seen(demo)[0] == ALL_VERSIONS
    assert parts[0] == sum(parts[1:])


def test_every_rule_can_be_asked_for(demo: Workshop) -> None:
    for rule in rules_to_ask(demo):
        asked = AskedLife("water pump", "distance", rule=rule)
        curve = asked_curve(demo, asked)
        answer = asked_life_answer(demo, asked, curve)
        assert answer.people["what"].to_list()[:2] == ["watched", "failed"]
        assert rule in answer.notes[0]


@pytest.mark.parametrize(
    ("asked", "wrong"),
    [
        (AskedLife("turbo", "age"), "no component 'turbo'; there are clutch"),
        (AskedLife("water pump", "weeks"), "no scale 'weeks'; there are age, distance"),
        (AskedLife("water pump", "age", version="wide"), "no version 'wide'; there are all"),
        (AskedLife("water pump", "age", rule="mine"), "no rule 'mine'; there are the rule in"),
        (AskedLife("water pump", "age", origin="used"), "no origin 'used'; there are original"),
    ],
)
def test_what_is_not_there_is_named(demo: Workshop, asked: AskedLife, wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        asked_curve(demo, asked)


def test_a_life_nobody_watched_is_said_in_its_place(demo: Workshop) -> None:
    nobody = replace(demo.episodes, table=demo.episodes.table.clear())

    shown = shown_life(replace(demo, episodes=nobody), AskedLife("water pump", "age"))

    assert shown == ("<p>water pump (original, all versions): none was watched under this rule</p>")


def test_what_the_panel_shows_follows_its_controls(demo: Workshop) -> None:
    controls, shown = life_panel(demo).children
    component, scale, version, rule, origin = controls.children
    first = shown.value

    component.value = "timing belt"
    assert scale.value == "distance"
    assert "timing belt, original, all versions" in shown.value
    assert shown.value != first

    version.value, rule.value, origin.value = "long", "every renewal counts", "renewed"
    assert "timing belt, renewed, long" in shown.value
    assert "every renewal counts" in shown.value
