"""What is told of a survey, on the demo and on clubs with few answers."""

import json
from pathlib import Path

import polars as pl
import pytest
from survey.folders import club_folder, members, on_the_road

from wornby.cli import main
from wornby.reports.survey_answers import who_answered_answer
from wornby.survey.answers import read_survey
from wornby.survey.cells import LEAST_ANSWERS
from wornby.survey.thresholds import Thresholds
from wornby.survey.weighted import weighted_survey

DEMO = Path(__file__).parents[2] / "data_demo"


def test_the_command_says_who_answered_and_where_every_row_went(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["survey", str(DEMO), "--desk"]) == 0
    said = capsys.readouterr().out
    for part in ("on the road in 2024", "effective sample size", "settled", "Where every row"):
        assert part in said


def test_json_has_cells_of_answers_enough_and_no_respondent(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["survey", str(DEMO), "--json"]) == 0
    (told,) = json.loads(capsys.readouterr().out)
    assert min(row["answered"] for row in told["rows"]) >= LEAST_ANSWERS
    assert sum(row["answered"] for row in told["rows"][:-1]) == told["rows"][-1]["answered"] == 130
    assert not {"respondent", "odometer_mi"} & set(told["rows"][0])


def test_another_calendar_year_may_be_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["survey", str(DEMO), "--calendar-year", "2013"]) == 0
    said = capsys.readouterr().out
    assert "on the road in 2013" in said
    assert "Answers not used, 5: " in said


def test_a_folder_without_a_survey_is_said_in_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    folder = club_folder(tmp_path)
    text = (folder / "layout.toml").read_text()
    (folder / "layout.toml").write_text(text[text.index('[[file]]\ntable = "population"') :])
    assert main(["survey", str(folder)]) == 1
    assert "no [[file]] with table = 'survey'" in capsys.readouterr().err


def test_versions_with_few_answers_are_told_as_joined(tmp_path: Path) -> None:
    answers = members((2007, "short", 20), (2008, "long", 9), (2008, "high-roof", 2))
    road = on_the_road((2007, "short", 400), (2008, "long", 300), (2008, "high-roof", 90))
    survey = read_survey(club_folder(tmp_path, answers=answers, vans=road))
    answer = who_answered_answer(
        weighted_survey(survey, calendar_year=2024), thresholds=Thresholds()
    )
    assert "Too few answered to tell apart: high-roof or long." in answer.notes
    assert answer.people["version"].to_list() == ["short", "high-roof or long", "all together"]
    assert "high-roof" not in answer.frame["version"].to_list()
    assert answer.frame.row(0, named=True)["share"] == 0.05


def test_shares_are_of_the_vehicles_on_the_road() -> None:
    answer = who_answered_answer(
        weighted_survey(read_survey(DEMO), calendar_year=2024), thresholds=Thresholds()
    )
    whole = answer.frame.row(by_predicate=pl.col("version") == "all together", named=True)
    assert whole["share"] == 130 / whole["on_the_road"]
    assert answer.people["share"][-1] == f"{100 * whole['share']:.1f}\u00a0%"


def test_wornby_read_accounts_for_the_survey_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["read", str(DEMO)]) == 0
    said = capsys.readouterr().out
    assert "survey answers" in said
    assert "vehicles on the road" in said


def test_the_limits_are_those_of_the_club_s_own_file(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    cells = [(2007, "short", 6), (2008, "short", 6), (2009, "short", 6)]
    road = on_the_road(*((year, body, 300) for year, body, _ in cells))
    folder = club_folder(tmp_path, answers=members(*cells), vans=road)
    assert main(["survey", str(folder), "--json"]) == 0
    (told,) = json.loads(capsys.readouterr().out)
    assert [row["answered"] for row in told["rows"]] == [6, 6, 6, 18]
    (folder / "disclosure.toml").write_text("[disclosure]\nminimum_cell = 8\n")
    assert main(["survey", str(folder), "--json"]) == 0
    (told,) = json.loads(capsys.readouterr().out)
    assert [row["answered"] for row in told["rows"]] == [18, 18]
    (folder / "disclosure.toml").write_text("[disclosure]\nminimum_cell = 1\n")
    assert main(["survey", str(folder)]) == 1
    assert "minimum_cell = 1: wanted 3 or more" in capsys.readouterr().err


def test_few_answers_not_used_are_told_without_their_number(tmp_path: Path) -> None:
    answers = members((2007, "short", 12), (1999, "short", 2))
    survey = read_survey(
        club_folder(tmp_path, answers=answers, vans=on_the_road((2007, "short", 300)))
    )
    weighted = weighted_survey(survey, calendar_year=2024)
    answer = who_answered_answer(weighted, thresholds=Thresholds())
    assert any(note.startswith("Answers not used, fewer than 5:") for note in answer.notes)
    assert "14" not in repr(answer)
