"""The sheet of one vehicle on the demo: safety, cautions, privacy, cold and hot, bad input."""

import math
from dataclasses import replace

import polars as pl
import pytest

from wornby.decisions.book import vehicles_in_the_book
from wornby.demo.parameters import TRUE_LIVES
from wornby.errors import EstimateError, RecordError
from wornby.reports.answer import Answer, Answers
from wornby.reports.known_parts import known_sentences
from wornby.reports.look_first import IN_WORK, words_for
from wornby.reports.sentences import CAUTION_WORDS, DISCLAIMER, SAFETY_CAUTION
from wornby.reports.vehicle import Vehicle, told_of, vehicle_asked_about
from wornby.reports.vehicle_answers import MUST, sheet_answers
from wornby.reports.workshop import Workshop

BRAKE, PIPE = "brake pipe above the axle", "coolant transfer pipe"


def stranger(workshop: Workshop, *, age: float = 14.0, horizon: float = 3.0) -> Vehicle:
    return vehicle_asked_about(
        workshop, age_years=age, odometer=7500 * age, registration=None, horizon_years=horizon
    )


def told(
    workshop: Workshop,
    vehicle: Vehicle,
    *,
    renewed: dict[str, float] | None = None,
    degraded: tuple[str, ...] = (),
    sound: tuple[str, ...] = (),
) -> Answers:
    known = told_of(
        vehicle,
        workshop.catalogue,
        renewed=renewed or {},
        degraded=frozenset(degraded),
        sound=frozenset(sound),
    )
    return sheet_answers(workshop, known)


def chance(answers: Answers, part: str) -> float:
    row = next(r for r in answers.answers[3].frame.to_dicts() if r["part"] == part)
    return float(row["chance"])


def renewed(work: Answer) -> set[str]:
    return {name for names in work.frame["renew_now"] for name in names}


@pytest.mark.parametrize("age", [1.0, 9.0, 20.0])
def test_a_degraded_safety_part_comes_first_and_is_renewed(demo: Workshop, age: float) -> None:
    # common practice, no source: a degraded safety part is never left
    work = told(demo, stranger(demo, age=age), degraded=(BRAKE,)).answers[1]
    first = work.frame.row(0, named=True)
    assert first["advice"] == "renew now: safety"
    assert BRAKE in first["renew_now"]
    assert MUST in work.people["advice"][0]


def test_a_degraded_safety_part_without_a_curve_is_renewed_too(demo: Workshop) -> None:
    original = {k: v for k, v in demo.original.items() if k != BRAKE}
    renewed = {g: {k: v for k, v in c.items() if k != BRAKE} for g, c in demo.renewed.items()}
    blind = replace(demo, original=original, renewed=renewed)
    cost, work, look, _ = told(blind, stranger(blind), degraded=(BRAKE,)).answers
    assert work.frame.row(0, named=True)["must"] == [BRAKE]
    assert any(note.startswith(f"Not in: {BRAKE}") for note in cost.notes)
    assert BRAKE in look.frame["part"]


def test_what_a_look_found_moves_the_chance(demo: Workshop) -> None:
    # common practice, no source: a degraded finding leads the failure by months
    vehicle = stranger(demo, horizon=1.0)
    unseen = told(demo, vehicle, degraded=(f"{PIPE}, left",))
    looked = told(demo, vehicle, degraded=(f"{PIPE}, left",), sound=(f"{PIPE}, right",))
    assert chance(looked, f"{PIPE}, left") > 0.5
    assert chance(looked, f"{PIPE}, right") < chance(unseen, f"{PIPE}, right")


def test_a_renewed_part_fails_less_than_one_of_unknown_age(demo: Workshop) -> None:
    vehicle = stranger(demo)
    assert chance(told(demo, vehicle, renewed={"water pump": 1.0}), "water pump") < chance(
        told(demo, vehicle), "water pump"
    )


def test_the_sheet_says_cold_or_hot_and_where(demo: Workshop) -> None:
    # common practice, no source: coolant is judged cold, a cap is never opened hot, and a leak
    # that cannot be seen is smelt, from the seat, when the fans run hot
    _, work, look, _ = told(demo, stranger(demo)).answers
    how = dict(zip(look.people["look at"], look.people["how"], strict=True))
    assert "engine cold" in how[BRAKE]
    assert "on the ramp" in how[BRAKE]
    declined = look.frame["renewed_in_work"].to_list()
    assert declined == sorted(declined)
    assert look.frame["part"][declined.index(True) if BRAKE in renewed(work) else 0] == BRAKE
    hot = [way for way in how.values() if "fans running, engine hot" in way]
    assert hot
    assert all("by smell" in way and "the cap stays shut" in way for way in hot)
    assert all("nothing hot is touched" in way for way in hot)
    assert any("open no cap until the engine is cold" in note for note in look.notes)


def test_what_the_work_renews_is_looked_at_last_and_marked(demo: Workshop) -> None:
    _, work, look, _ = told(demo, stranger(demo), degraded=(f"{PIPE}, left",)).answers
    marked = {
        row["look at"] for row in look.people.to_dicts() if row["look for"].startswith(IN_WORK)
    }
    rows = look.frame.filter(pl.col("renewed_in_work"))
    assert marked == set(rows["part"]) == renewed(work) - {f"{PIPE}, left"}
    assert not look.frame["renewed_in_work"][0]


def test_the_table_says_which_money_is_before_tax(demo: Workshop) -> None:
    cost, work, look, parts = told(demo, stranger(demo), degraded=(f"{PIPE}, left",)).answers
    paid = work.frame.filter(pl.col("paid_now_net") > 0)
    assert paid["paid_now_gross"].to_list() == pytest.approx((1.2 * paid["paid_now_net"]).to_list())
    assert "with tax (" in work.people["today's bill"][0]
    assert cost.title.endswith("before tax")
    for answer in (work, look, parts):
        money = [
            name
            for name in answer.people.columns
            if name != "today's bill" and "£" in "".join(answer.people[name].drop_nulls())
        ]
        assert money
        assert all("before tax" in name or name == "advice" for name in money)
    assert any("to compare" in note and "never left" in note for note in cost.notes)
    assert parts.people["part"][-1] == "all together: each access paid once"


@pytest.mark.parametrize(
    ("renewed", "original", "said"),
    [
        ({"water pump": 1.0}, (), "Renewed 1 year ago: water pump."),
        (
            {"water pump": 3.5, PIPE: 3.5},
            (),
            f"Renewed 3.5 years ago: {PIPE} (left and right), wat",
        ),
        ({}, ("thermostat",), "Original: thermostat. Of its 16 parts, each place counted, 15 are"),
    ],
)
def test_what_was_told_of_the_vehicle_is_said(
    demo: Workshop, renewed: dict[str, float], original: tuple[str, ...], said: str
) -> None:
    known = told_of(stranger(demo), demo.catalogue, renewed=renewed, original=original)
    assert said in known_sentences(known, demo.catalogue)


def test_one_part_of_unknown_age_and_none_are_told_apart(demo: Workshop) -> None:
    places = set(demo.catalogue.components)
    whole = told_of(stranger(demo), demo.catalogue, renewed={}, original=places)
    assert known_sentences(whole, demo.catalogue).endswith("none is of unknown age.")
    but_one = told_of(stranger(demo), demo.catalogue, renewed={}, original=places - {BRAKE})
    assert "1 is of unknown age" in known_sentences(but_one, demo.catalogue)


def test_no_row_tells_to_look_hot_at_what_is_seen_cold(demo: Workshop) -> None:
    # common practice, no source: a coolant leak is traced cold; hot, with the cap shut, it is smelt
    look = told(demo, stranger(demo), degraded=("timing belt", "belt tensioner")).answers[2]
    rows = {row["part"]: row for row in look.frame.to_dicts()}
    assert rows["heater matrix"]["engine"] == "hot"
    assert rows["heater matrix"]["look_for"] == "sweet smell, misted screen"
    assert rows["water pump"]["engine"] == "cold"
    assert rows["water pump"]["look_for"].startswith("dried coolant below the pump")


def test_words_that_fit_no_look_are_told_whole() -> None:
    words = "engine cold: drips at the spindle"
    assert words_for(words, "cold") == "drips at the spindle"
    assert words_for(words, "hot") == words_for(words, "") == words


def test_what_to_renew_stands_first_beside_its_access(demo: Workshop) -> None:
    # on a phone two columns are seen without scrolling
    _, work, _, parts = told(demo, stranger(demo)).answers
    assert work.people.columns[:2] == ["access", "renew"]
    assert parts.people.columns[:2] == ["part", "chance to fail"]
    for row, typed in zip(work.people.to_dicts(), work.frame.to_dicts(), strict=True):
        assert row["renew"].startswith("now: ") == bool(typed["renew_now"])


def test_left_and_right_are_named_and_their_money_has_an_interval(demo: Workshop) -> None:
    rows = {r["part"]: r for r in told(demo, stranger(demo)).answers[3].frame.to_dicts()}
    for place in (f"{PIPE}, left", f"{PIPE}, right"):
        row = rows[place]
        assert row["chance_lower"] < row["chance"] < row["chance_upper"]
        assert row["expected_cost_lower_net"] < row["expected_cost_net"]
        assert row["expected_cost_net"] < row["expected_cost_upper_net"]


def test_cautions_and_what_the_sheet_cannot_do_are_part_of_it(demo: Workshop) -> None:
    _, work, look, _ = told(demo, stranger(demo)).answers
    carried = {name for c in demo.catalogue.components.values() for name in c.cautions}
    assert carried == {"hot coolant", "raised vehicle", "brakes"}
    wanted = {*(CAUTION_WORDS[name] for name in carried), SAFETY_CAUTION}
    assert {*wanted, DISCLAIMER} <= set(work.notes)
    assert wanted <= set(look.notes)


def test_the_buyer_gets_a_distribution_in_order(demo: Workshop) -> None:
    frame = told(demo, stranger(demo), degraded=(BRAKE, "water pump")).answers[0].frame
    for row in frame.to_dicts():
        assert 0 <= row["lower_net"] <= row["median_net"] <= row["upper_net"]
    assert frame["mean_net"][1] < frame["mean_net"][0]


def test_a_vehicle_of_the_records_is_known_by_its_history_and_never_named(demo: Workshop) -> None:
    vehicle = vehicles_in_the_book(demo.records)["vehicle"][5]
    known = vehicle_asked_about(
        demo, age_years=None, odometer=None, registration=vehicle, horizon_years=3.0
    )
    answers = told(demo, known)
    taken = answers.answers[3].frame["condition"].drop_nulls().to_list()
    assert any("renewed" in condition or "original" in condition for condition in taken)
    assert vehicle not in repr(answers)
    assert all(vehicle not in answer.as_json() for answer in answers.answers)


def test_which_conclusions_rest_on_few_records_is_said(demo: Workshop) -> None:
    few = dict(demo.original)
    few["water pump"] = replace(few["water pump"], weibull=None)
    answers = told(replace(demo, original=few), stranger(demo))
    people = answers.answers[3].people
    said = dict(zip(people["part"], people["rests on"], strict=True))
    assert "few records" in said["water pump"]
    assert "few records" not in said["thermostat"]


def test_chances_of_known_originals_are_those_of_the_demos_world(demo: Workshop) -> None:
    # the truth behind the demo: Weibull lives of `demo.parameters`; 90 % intervals
    vehicle = stranger(demo)
    known = told_of(
        vehicle, demo.catalogue, renewed={}, original=frozenset(demo.catalogue.components)
    )
    rows = sheet_answers(demo, known).answers[3].frame.to_dicts()
    within = []
    for row in rows:
        true = TRUE_LIVES.get(str(row["part"]).partition(",")[0])
        if true is None:
            continue
        miles = 7500 if true.scale_value > 1000 else 1
        start, end = ((age * miles / true.scale_value) ** true.shape for age in (14.0, 17.0))
        within.append(row["chance_lower"] < 1 - math.exp(start - end) < row["chance_upper"])
    assert len(within) == 16
    assert sum(within) >= 12


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"age": -1.0}, "age -1: wanted from 0 to 100"),
        ({"horizon": 0.0}, "horizon in years 0"),
    ],
)
def test_ages_that_cannot_be_are_refused(
    demo: Workshop, wrong: dict[str, float], said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        stranger(demo, **wrong)


def test_unknown_names_are_refused(demo: Workshop) -> None:
    vehicle = stranger(demo)
    with pytest.raises(ValueError, match="no component 'flux'"):
        told(demo, vehicle, degraded=("flux",))
    with pytest.raises(ValueError, match="no place 'top'; there are left, right"):
        told(demo, vehicle, sound=(f"{PIPE}, top",))
    with pytest.raises(ValueError, match="named degraded and sound"):
        told(demo, vehicle, sound=(BRAKE,), degraded=(BRAKE,))
    with pytest.raises(ValueError, match="years since water pump was renewed 20"):
        told(demo, vehicle, renewed={"water pump": 20.0})
    with pytest.raises(ValueError, match="no such vehicle in the records"):
        vehicle_asked_about(
            demo, age_years=None, odometer=None, registration="NONE", horizon_years=3.0
        )


def test_without_curves_or_money_there_is_no_sheet(demo: Workshop) -> None:
    with pytest.raises(EstimateError, match="no component has a curve"):
        told(replace(demo, original={}, renewed={}), stranger(demo))
    poor = replace(demo.records, catalogue=replace(demo.catalogue, money=None))
    with pytest.raises(RecordError, match=r"no \[money\]"):
        told(replace(demo, records=poor), stranger(demo))
