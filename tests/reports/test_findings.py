"""The findings of the vehicle's and the records' letters: sentences that agree with the tables."""

from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

from wornby.reports.answer import Answer, Answers
from wornby.reports.records_letter import page_edits_answer, records_findings
from wornby.reports.vehicle import told_of, vehicle_asked_about
from wornby.reports.vehicle_answers import sheet_answers
from wornby.reports.vehicle_letter import vehicle_findings
from wornby.reports.workshop import Workshop

BRAKE, PIPE = "brake pipe above the axle", "coolant transfer pipe"
DEMO = Path(__file__).parents[2] / "data_demo"


def sheet(demo: Workshop, *, degraded: frozenset[str] = frozenset()) -> Answers:
    vehicle = vehicle_asked_about(
        demo, age_years=14.0, odometer=105_000, registration=None, horizon_years=3.0
    )
    nothing: frozenset[str] = frozenset()
    told = told_of(
        vehicle, demo.catalogue, renewed={}, original=nothing, degraded=degraded, sound=nothing
    )
    return sheet_answers(demo, told)


def test_a_degraded_brake_pipe_stands_before_all_money(demo: Workshop) -> None:
    told = vehicle_findings(
        demo, sheet(demo, degraded=frozenset({"brake pipe above the axle"}))
    ).sentences

    assert told[1].startswith("Renew brake pipe above the axle before the vehicle is used.")
    assert "off the road" in told[1]


def test_the_bill_comes_first_and_what_it_rests_on_before_it(demo: Workshop) -> None:
    told = vehicle_findings(demo, sheet(demo, degraded=frozenset({f"{PIPE}, left"}))).sentences

    assert f"Found degraded: {PIPE} (left). Of its 16 parts, each place counted, all" in told[0]
    assert told[1].startswith("Today's bill for the advised work is £")
    assert "Saltmarsh Van Works, which end in December 2024. Invented" in told[-1]


def test_without_tax_the_bill_is_told_once(demo: Workshop) -> None:
    assert demo.catalogue.money is not None
    untaxed = replace(demo.catalogue, money=replace(demo.catalogue.money, tax_rate=0.0))
    free = replace(demo, records=replace(demo.records, catalogue=untaxed))
    told = " ".join(vehicle_findings(free, sheet(free)).sentences)

    assert "Today's bill for the advised work is £" in told
    assert "with tax" not in told


def test_a_bill_that_lacks_a_part_without_a_price_says_so(demo: Workshop) -> None:
    original = {k: v for k, v in demo.original.items() if k != BRAKE}
    renewed = {g: {k: v for k, v in c.items() if k != BRAKE} for g, c in demo.renewed.items()}
    blind = replace(demo, original=original, renewed=renewed)
    told = vehicle_findings(blind, sheet(blind, degraded=frozenset({BRAKE}))).sentences

    assert f"without {BRAKE}, whose price is not known" in told[2]


def test_what_the_work_renews_is_not_looked_at_first_but_a_safety_part_if_declined(
    demo: Workshop,
) -> None:
    answers = sheet(demo, degraded=frozenset({f"{PIPE}, left"}))
    work = {name for row in answers.answers[1].frame["renew_now"] for name in row}
    told = vehicle_findings(demo, answers).sentences
    first = next(one for one in told if one.startswith("Look first at"))

    assert BRAKE in work
    assert not [name for name in work if name in first]
    assert any(
        one.startswith(f"If the advised work is declined, look before all else at {BRAKE}")
        for one in told
    )
    assert "engine hot: sweet smell, misted screen; from the seat" in first


def test_a_customers_letter_speaks_no_statistics(demo: Workshop) -> None:
    answers = sheet(demo, degraded=frozenset({f"{PIPE}, left"}))
    told = f"{answers!r} {vehicle_findings(demo, answers)!r}"

    assert "right in 9" in told
    assert "cases of 100" in told
    assert "if it is opened anyway: " in told
    for word in ("Kendall", "no tie", "truths", "workshop.toml", "once open"):
        assert word not in told


def test_the_money_told_is_that_of_the_table(demo: Workshop) -> None:
    answers = sheet(demo)
    told = " ".join(vehicle_findings(demo, answers).sentences)
    left = answers.answers[0].frame.row(0, named=True)

    assert f"£{left['mean_net']:,.0f} on average before tax" in told
    assert f"£{left['lower_net']:,.0f} and £{left['upper_net']:,.0f}" in told
    assert "before the vehicle is used" not in told
    bill = sum(answers.answers[1].frame["paid_now_net"].to_list())
    assert f"Today's bill for the advised work is £{1.2 * bill:,.0f} with tax (£{bill:,.0f}" in told
    assert "coolant transfer pipe, left, coolant" not in told


def test_a_page_copies_no_edit_that_names_a_vehicle(demo: Workshop) -> None:
    edits = page_edits_answer(demo, DEMO)

    assert set(edits.frame["file"]) <= {"workshop.toml", "layout.toml"}
    assert "wornby read data_demo" in edits.notes[-1]


def test_the_records_findings_add_up_with_the_ledgers(demo: Workshop) -> None:
    edits = page_edits_answer(demo, DEMO)
    told = records_findings(demo, edits).sentences
    lines = next(ledger for ledger in demo.ledgers if ledger.what == "job lines")

    assert f"{lines.n_accepted:,} of {lines.n_read:,} job lines serve" in told[0]
    assert f"{edits.frame['rows_gained'][0]:,} more rows used" in told[-1]


@pytest.mark.parametrize(
    ("gained", "told"),
    [
        ([], "No edit of workshop.toml or layout.toml would have more rows used."),
        ([1], "The edit below would have 1 more row used."),
        ([7, 2], "The first of the 2 edits below would have 7 more rows used."),
    ],
)
def test_one_edit_and_several_are_told_apart(demo: Workshop, gained: list[int], told: str) -> None:
    frame = pl.DataFrame({"rows_gained": gained}, schema={"rows_gained": pl.Int64})

    assert records_findings(demo, Answer("edits", frame, frame)).sentences[-1] == told
