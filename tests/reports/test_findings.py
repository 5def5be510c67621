"""The findings of the vehicle's and the records' letters: sentences that agree with the tables."""

from pathlib import Path

import polars as pl
import pytest

from wornby.reports.answer import Answer, Answers
from wornby.reports.records_letter import page_edits_answer, records_findings
from wornby.reports.vehicle import told_of, vehicle_asked_about
from wornby.reports.vehicle_answers import sheet_answers
from wornby.reports.vehicle_letter import vehicle_findings
from wornby.reports.workshop import Workshop

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


def test_the_money_told_is_that_of_the_table(demo: Workshop) -> None:
    answers = sheet(demo)
    told = " ".join(vehicle_findings(demo, answers).sentences)
    left = answers.answers[0].frame.row(0, named=True)

    assert f"£{left['mean_net']:,.0f} on average" in told
    assert f"£{left['lower_net']:,.0f} and £{left['upper_net']:,.0f}" in told
    assert "before the vehicle is used" not in told
    bill = answers.answers[1].frame["paid_now_net"].sum()
    assert f"a bill of £{bill:,.0f} today" in told
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
