"""Whatever touches what can hurt carries its caution, in every answer in which it appears."""

from dataclasses import replace

import pytest

from wornby.decisions.costs import opening_cost
from wornby.decisions.stated_costs import access_of, follow_on_price, part_costs
from wornby.records.catalogue import CAUTIONS, Component
from wornby.reports.expected_answers import expected_answer
from wornby.reports.ramp import Ramp, while_open_advice
from wornby.reports.sentences import CAUTION_WORDS, SAFETY_CAUTION, cautions_for
from wornby.reports.while_open_answers import bundle_answer, card_answer
from wornby.reports.workshop import Workshop
from wornby.reports.yearly_pace import Pace

BRAKE = "brake pipe above the axle"


def test_every_caution_that_a_catalogue_may_name_has_its_words() -> None:
    assert set(CAUTIONS) == set(CAUTION_WORDS)
    for name in CAUTIONS:
        assert CAUTION_WORDS[name] in cautions_for([Component("part", ("part",), caution=name)])


def test_a_component_may_carry_several_cautions() -> None:
    pipe = Component("pipe", ("pipe",), caution="hot coolant, raised vehicle")
    assert cautions_for([pipe]) == (CAUTION_WORDS["hot coolant"], CAUTION_WORDS["raised vehicle"])


def test_a_safety_part_carries_a_caution_even_if_none_is_named() -> None:
    assert cautions_for([Component("belt", ("belt",), safety=True)]) == (SAFETY_CAUTION,)


def test_a_cap_is_never_opened_hot() -> None:
    # common practice, no source: coolant is judged cold, a cap is never opened hot
    assert "open no cap until the engine is cold" in CAUTION_WORDS["hot coolant"]


def test_failures_to_expect_carry_the_cautions_of_the_parts(demo: Workshop) -> None:
    carried = set(cautions_for(list(demo.catalogue.components.values())))
    assert {CAUTION_WORDS["brakes"], SAFETY_CAUTION} < carried
    assert carried <= set(expected_answer(demo, months=3).notes)


@pytest.mark.parametrize("group", ["gearbox out", "dash out", "front subframe down"])
def test_the_open_job_carries_the_cautions_of_its_group(demo: Workshop, group: str) -> None:
    told = while_open_advice(
        demo, group, Ramp(9.0, Pace(8000.0, "miles"), 3.0, {}), failed=None, n_paths=200
    )
    wanted = set(cautions_for(demo.catalogue.group(group)))
    assert wanted
    for answer in (bundle_answer(demo, told), card_answer(demo, told)):
        assert wanted <= set(answer.notes)


def test_what_a_job_always_entails_is_paid_with_its_access(demo: Workshop) -> None:
    # common practice, no source: lowering a front subframe entails a wheel alignment, and any
    # cooling work entails bleeding the system
    catalogue, hour = demo.catalogue, 72.0
    pipe = catalogue.component("coolant transfer pipe")
    group = access_of(catalogue, pipe)
    alignment = catalogue.follow_on["wheel alignment"].sublet_cost_net
    assert alignment > 0
    assert opening_cost(group, labour_price_per_hour=hour) == group.access_hours * hour + alignment
    bare = replace(pipe, follow_on=())
    without = replace(catalogue, components={**catalogue.components, pipe.name: bare})
    bleeding = follow_on_price(catalogue.follow_on["bleed cooling system"], hour)
    dearer = part_costs(catalogue, pipe.name, grade="genuine").part_price_net
    assert dearer - part_costs(without, pipe.name, grade="genuine").part_price_net == pytest.approx(
        bleeding
    )


def test_a_safety_part_is_revealed_by_the_gearbox(demo: Workshop) -> None:
    # common practice, no source: a gearbox taken down reveals a corroded brake pipe above it
    assert demo.catalogue.access_groups["gearbox out"].reveals == (BRAKE,)
    assert demo.catalogue.component(BRAKE).safety
