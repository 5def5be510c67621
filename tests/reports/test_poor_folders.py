"""Letters on folders that lack much of what they tell of: written of what there is."""

import re
from datetime import date
from pathlib import Path
from shutil import copytree, ignore_patterns

import pytest

from wornby.errors import EstimateError
from wornby.records.reading import read_records
from wornby.records.starting import start_folder
from wornby.reports.left_out import where_stated
from wornby.reports.notebook_run import Piece, Prose, Shown, run_notebook
from wornby.reports.policy_answers import policy_answer
from wornby.reports.ramp_card import ramp_card_answer
from wornby.reports.records_answers import coverage_answer
from wornby.reports.render import NOTEBOOKS
from wornby.reports.renewal_answers import renewal_age_answer
from wornby.reports.sentences import Sentences
from wornby.reports.vehicle import vehicle_asked_about
from wornby.reports.vehicle_answers import sheet_answers
from wornby.reports.workshop import open_workshop

DEMO = Path(__file__).parents[2] / "data_demo"

THREE_LINES = """Invoice,Date,Reg,Mileage,Work,Price,First reg
1,12/03/2021,AB12 CDE,84000,water pump renewed leaking,210.00,2010
2,15/06/2022,AB12 CDE,92000,oil service,90.00,2010
3,15/07/2023,XY10 ZZZ,55000,thermostat replaced,95.00,2012
"""


@pytest.fixture(scope="module")
def three_lines(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder started from three job lines and nothing else."""
    folder = tmp_path_factory.mktemp("three")
    (folder / "lines.csv").write_text(THREE_LINES)
    start_folder(folder, today=date(2024, 1, 1), pseudonym_key="test")
    return folder


def letter(name: str, folder: Path) -> list[Piece]:
    return run_notebook(NOTEBOOKS / f"{name}.ipynb", {"folder": folder})


@pytest.mark.parametrize("name", ["owner", "analyst", "vehicle", "records"])
def test_three_lines_make_every_letter_but_the_clubs(name: str, three_lines: Path) -> None:
    values = [piece.value for piece in letter(name, three_lines) if isinstance(piece, Shown)]
    assert len(values) >= 5
    assert Sentences(()) not in values[:1]


def test_the_owner_is_told_once_that_no_job_is_priced(three_lines: Path) -> None:
    pieces = letter("owner", three_lines)
    told = [repr(piece.value) for piece in pieces if isinstance(piece, Shown)]
    assert sum("no [[fixed_price_job]]" in text for text in told) == 1
    headings = [piece.text for piece in pieces if isinstance(piece, Prose)]
    assert any(text.startswith("## Jobs at a fixed price") for text in headings)
    assert not any("One job at a ladder of prices" in text for text in headings)


def test_with_nothing_to_go_by_nothing_is_said_to_be_worth_leaving(three_lines: Path) -> None:
    told = " ".join(
        repr(piece.value) for piece in letter("owner", three_lines) if isinstance(piece, Shown)
    )
    assert "No part is known to be worth renewing by itself before it fails." in told


def test_what_rests_on_what_was_left_out_is_left_out_without_another_word() -> None:
    def refused() -> str:
        raise EstimateError("no past job")

    missing = where_stated(refused)
    assert repr(missing) == "- Left out: no past job."
    assert where_stated(len, missing) == Sentences(())
    assert where_stated(len, "abc", beside=missing) == Sentences(())
    assert where_stated(len, "abc", beside="an answer") == 3


def test_an_error_that_is_none_of_ours_is_not_left_out() -> None:
    with pytest.raises(ZeroDivisionError):
        where_stated(lambda: 1 / 0)


def test_without_readings_the_owners_letter_has_the_card_for_parts_that_wear_by_age(
    tmp_path: Path,
) -> None:
    (tmp_path / "lines.csv").write_text(
        "Invoice,Date,Reg,Work,First reg\n"
        + "".join(
            f"{n}{part},{day}/06/2022,AB{n} CDE,{part} {what},2010\n"
            for n in range(12)
            for day, part, what in (
                (1 + n, "water pump", "ok"),
                (2 + n, "water pump", "renewed leaking" if n % 2 else "ok"),
            )
        )
    )
    start_folder(tmp_path, today=date(2024, 1, 1), pseudonym_key="test")
    told = [repr(piece.value) for piece in letter("owner", tmp_path) if isinstance(piece, Shown)]
    assert any("does an unknown distance a year" in text for text in told)


def test_a_component_that_is_only_named_is_left_out_of_what_needs_its_costs(
    tmp_path: Path,
) -> None:
    copytree(DEMO, tmp_path, dirs_exist_ok=True, ignore=ignore_patterns(".*", "truth"))
    told = (tmp_path / "workshop.toml").read_text()
    lines = (
        "[[component]]",
        'name = "water pump"',
        'words = ["water pump*"]',
        'access_group = "dash out"',
    )
    bare = "\n".join(lines) + "\n\n"
    mine = re.sub(r'(?s)\[\[component\]\]\nname = "water pump".*?(?=\[\[component\]\])', bare, told)
    mine = re.sub(r'(?m)^"water pump" = .*\n', "", mine.split("[[fixed_price_job]]")[0])
    (tmp_path / "workshop.toml").write_text(mine)
    workshop = open_workshop(tmp_path, confidence=0.9, seed=1)
    assert "water pump" in workshop.original
    vehicle = vehicle_asked_about(
        workshop, age_years=14.0, odometer=None, registration=None, horizon_years=3.0
    )
    said = "component 'water pump': no own_hours or failure_consequence_net; add both"
    for answer in (
        ramp_card_answer(workshop, age_years=14.0, horizon_years=3.0),
        renewal_age_answer(workshop),
        sheet_answers(workshop, vehicle).answers[0],
    ):
        assert any(said in note for note in answer.notes)
        assert "water pump" not in answer.people.to_series().to_list()
        assert answer.people.height >= 2


def test_before_any_first_registration_nothing_is_said_of_what_lines_name(tmp_path: Path) -> None:
    undated = [line.rpartition(",")[0] for line in THREE_LINES.splitlines()]
    (tmp_path / "lines.csv").write_text("\n".join(undated) + "\n")
    start_folder(tmp_path, today=date(2024, 1, 1), pseudonym_key="test")
    told = coverage_answer(read_records(tmp_path))
    assert "of which name a component" not in repr(told)
    assert "No line can be used yet" in repr(told)


def test_few_failures_give_no_age_and_no_headline(three_lines: Path) -> None:
    """Of three lines no age follows: what is told would be the prior's, not the workshop's."""
    workshop = open_workshop(three_lines, confidence=0.9, seed=1)
    ages = renewal_age_answer(workshop)
    assert ages.people["renew at"].to_list() == ["too few failures (0) to say"] * ages.people.height
    assert set(ages.people["saving (interval)"]) == {""}
    chosen = policy_answer(workshop).people
    assert chosen["cheapest (chance)"].str.starts_with("too few failures").all()
