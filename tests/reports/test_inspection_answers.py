"""How often to look, on the demo, whose looks see half of the defects (see its parameters)."""

from dataclasses import replace

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wornby.curves.delay_times import DelayTime
from wornby.demo.parameters import TRUE_LIVES, WorldParameters
from wornby.errors import EstimateError, RecordError
from wornby.reports.comparison_answers import grade_answer
from wornby.reports.delays import delay_of, service_look
from wornby.reports.grade_cost_answers import grade_cost_answer
from wornby.reports.inspection_answers import (
    SAFETY,
    KnownDelays,
    inspection_answer,
    looking_answers,
)
from wornby.reports.sentences import SAFETY_CAUTION
from wornby.reports.workshop import Workshop

BRAKE, PIPE = "brake pipe above the axle", "coolant transfer pipe"


def test_the_demo_states_the_chance_to_see_that_its_world_has(demo: Workshop) -> None:
    look = service_look(demo.catalogue)
    shows = [name for name, life in TRUE_LIVES.items() if life.degraded_years > 0]
    assert {look.chance(name) for name in shows} == {WorldParameters().degraded_seen}


@pytest.mark.parametrize("component", ["anti-roll bar bush", "water pump", BRAKE])
def test_delays_of_the_demo_are_those_of_its_world(demo: Workshop, component: str) -> None:
    told = delay_of(demo, demo.catalogue.component(component)).mean(confidence=0.95)
    assert told.lower is not None
    assert told.upper is not None
    assert told.lower < TRUE_LIVES[component].degraded_years < told.upper


def test_every_way_is_told_for_each_component_that_shows(demo: Workshop) -> None:
    often, caught = looking_answers(demo, share=0.5).answers
    assert often.frame.height == caught.frame.height
    pipe = {row["way"]: row for row in often.frame.to_dicts() if row["component"] == PIPE}
    assert list(pipe) == ["on the ground", "on the ramp", "undertray off", "part open"]
    intervals = [row["interval_for_share_years"] for row in pipe.values()]
    assert intervals == sorted(intervals)
    assert (
        pipe["on the ramp"]["cost_per_year_net"] < pipe["on the ramp"]["waiting_cost_per_year_net"]
    )
    safety = [r["cheapest"] for r in often.people.to_dicts() if r["component"] == BRAKE]
    assert set(safety) == {SAFETY}


@pytest.fixture(scope="module")
def brake_delay(demo: Workshop) -> DelayTime:
    return delay_of(demo, demo.catalogue.component(BRAKE))


@settings(max_examples=4, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(hours=st.floats(0, 50), price=st.floats(0, 1e5), consequence=st.floats(0, 1e6))
def test_no_money_says_not_to_look_at_a_safety_part(
    demo: Workshop, brake_delay: DelayTime, hours: float, price: float, consequence: float
) -> None:
    components = dict(demo.catalogue.components)
    components[BRAKE] = replace(
        components[BRAKE],
        own_hours=hours,
        part_price_net={"genuine": price},
        failure_consequence_net=consequence,
    )
    catalogue = replace(demo.catalogue, components=components)
    dear = replace(demo, records=replace(demo.records, catalogue=catalogue))
    told = inspection_answer(dear, KnownDelays({BRAKE: brake_delay}, {}), share=0.5)
    assert set(told.people["cheapest"]) == {SAFETY}
    assert told.frame["safety"].all()
    assert told.frame["pays_probability"].null_count() == told.frame.height
    assert SAFETY_CAUTION in told.notes


def test_what_gives_no_warning_is_named_with_why(demo: Workshop) -> None:
    often, _ = looking_answers(demo, share=0.5).answers
    assert any("gearbox mount: none of" in note for note in often.notes)


def test_looks_that_are_not_stated_are_refused(demo: Workshop) -> None:
    def stating(looks: dict[str, object]) -> Workshop:
        catalogue = replace(demo.catalogue, looks=looks)  # type: ignore[arg-type]  # looks of the demo
        return replace(demo, records=replace(demo.records, catalogue=catalogue))

    with pytest.raises(RecordError, match=r"no \[\[look\]\]; say of each"):
        looking_answers(stating({}), share=0.5)
    unmarked = {n: replace(k, at_service=False) for n, k in demo.catalogue.looks.items()}
    with pytest.raises(RecordError, match="has at_service = true"):
        looking_answers(stating({**unmarked}), share=0.5)
    blind = replace(service_look(demo.catalogue), sees={})
    with pytest.raises(EstimateError, match="no component's delay is known"):
        looking_answers(stating({blind.name: blind}), share=0.5)
    with pytest.raises(ValueError, match="share to catch 1: wanted between 0 and 1"):
        looking_answers(demo, share=1)


def test_aftermarket_parts_of_the_demo_are_the_dear_choice(demo: Workshop) -> None:
    # the demo's world has them last 0.4 times as long, and fail early
    frame = grade_cost_answer(demo, service_years=5.0).frame
    copies = [r for r in frame.to_dicts() if r["grade"] == "aftermarket" and not r["few"]]
    assert len(copies) >= 8
    assert all(r["dearest_cheaper_probability"] > 0.9 for r in copies)
    early = [frame[f"failed_{months}_months_by_curve"] for months in (12, 24)]
    assert (early[0] < early[1]).all()


def test_money_says_a_plain_yes_only_where_the_table_of_grades_tells_them_apart(
    demo: Workshop,
) -> None:
    answer, grades = grade_cost_answer(demo, service_years=5.0), grade_answer(demo).frame
    apart = set(grades.filter(pl.col("p_value_held") < 0.05).select("component", "grade").rows())
    named = answer.frame.select("component", "grade").rows()
    assert answer.people["part, grade"].to_list() == [", ".join(name) for name in named]
    told = list(zip(named, answer.people["dearest part worth paying for"], strict=True))
    yes = {name for name, verdict in told if verdict.startswith("yes")}
    likely = {name for name, verdict in told if verdict.startswith("likely")}
    assert yes
    assert yes <= apart
    assert likely
    assert not likely & apart
    assert any("cannot be told apart yet" in verdict for _, verdict in told)
    counted = [name for name in answer.people.columns if "failed within" in name]
    assert not counted


def test_grades_that_were_never_watched_are_not_compared(demo: Workshop) -> None:
    with pytest.raises(EstimateError, match="nothing to compare"):
        grade_cost_answer(replace(demo, renewed={}), service_years=5.0)
    with pytest.raises(ValueError, match="service_years is 0"):
        grade_cost_answer(demo, service_years=0)
