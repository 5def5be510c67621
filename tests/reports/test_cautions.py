"""Whatever touches what can hurt carries its caution, in every answer in which it appears."""

import json
from dataclasses import replace

import polars as pl
import pytest

from wornby.decisions.costs import opening_cost
from wornby.decisions.stated_costs import access_of, follow_on_price, part_costs
from wornby.records.catalogue import CAUTIONS, Component
from wornby.reports.answer import Answer, Answers
from wornby.reports.expected_answers import expected_answer
from wornby.reports.grade_cost_answers import grade_cost_answer
from wornby.reports.notebook_run import Shown
from wornby.reports.pages import html_page
from wornby.reports.ramp import Ramp, while_open_advice
from wornby.reports.sentences import CAUTION_WORDS, SAFETY_CAUTION, cautions, cautions_for
from wornby.reports.spreadsheets import csv_text
from wornby.reports.stock_answers import stock_answer
from wornby.reports.while_open_answers import against_answer, bundle_answer, card_answer
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
    for asked in (bundle_answer, against_answer, card_answer):
        answer = asked(demo, told)
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


def warned(*texts: str) -> Answer:
    """A small answer with the cautions of these words."""
    table = pl.DataFrame({"component": ["hose"]})
    return Answer("hoses", table, table, ("a note", *(CAUTION_WORDS[text] for text in texts)))


def test_parts_on_the_shelf_and_the_money_of_grades_carry_their_cautions(demo: Workshop) -> None:
    carried = set(cautions_for(list(demo.catalogue.components.values())))
    for answer in (stock_answer(demo), grade_cost_answer(demo, service_years=5.0)):
        assert set(answer.cautions()) == carried


def test_an_answer_alone_carries_its_cautions_in_every_form(demo: Workshop) -> None:
    answer = stock_answer(demo)
    forms = repr(answer), answer._repr_html_(), answer.as_json(), csv_text(answer)
    for caution in answer.cautions():
        assert caution in forms[0]
        assert caution in forms[1].replace("&#x27;", "'")
        assert caution in json.loads(forms[2])["notes"]
        assert caution in pl.read_csv(forms[3].encode())["cautions"][-1]
    assert "cautions" not in csv_text(warned())


def page_of(*values: object) -> str:
    """A page that shows these."""
    pieces = [Shown(value) for value in values]
    return html_page(pieces, about="hoses", shows_code=False, beside=("a.pdf", "a.xlsx"))


def test_a_page_refers_to_what_it_tells_once_and_tells_in_full_what_it_does_not(
    demo: Workshop,
) -> None:
    answer, hot, fuel = warned("hot coolant", "fuel"), CAUTION_WORDS["hot coolant"], "explodes"
    page = page_of(cautions(demo), answer, Answers((answer,)))
    assert page.count(hot) == 1
    assert page.count("Cautions</a>: hot coolant.</p>") == 2
    assert page.count(fuel) == 2
    assert page_of(answer).count(hot) == page_of(answer).count(fuel) == 1
    assert "#cautions" not in page_of(answer)


def test_each_caution_names_the_components_that_it_holds_for(demo: Workshop) -> None:
    told = {
        one.partition(" For: ")[0]: one.partition(" For: ")[2] for one in cautions(demo).texts()
    }
    for caution in cautions_for(list(demo.catalogue.components.values())):
        named = told[caution].rstrip(".").split(", ")
        held = [c.name for c in demo.catalogue.components.values() if caution in cautions_for([c])]
        assert named == held != []
