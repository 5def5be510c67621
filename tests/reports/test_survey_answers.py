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
from wornby.survey.weighted import weighted_survey

DEMO = Path(__file__).parents[2] / "data_demo"


def test_the_command_says_who_answered_and_where_every_row_went(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["survey", str(DEMO)]) == 0
    said = capsys.readouterr().out
    for part in ("on the road in 2024", "effective sample size", "settled in", "Where every row"):
        assert part in said


def test_json_has_cells_of_answers_enough_and_no_respondent(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["survey", str(DEMO), "--json"]) == 0
    told, _ = json.loads(capsys.readouterr().out)
    assert min(row["answered"] for row in told["rows"]) >= LEAST_ANSWERS
    assert sum(row["answered"] for row in told["rows"][:-1]) == told["rows"][-1]["answered"] == 130
    assert not {"respondent", "odometer_mi"} & set(told["rows"][0])


def test_another_calendar_year_may_be_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["survey", str(DEMO), "--calendar-year", "2013"]) == 0
    said = capsys.readouterr().out
    assert "on the road in 2013" in said
    assert "answers have no weight: none of its model year" in said


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
    answer = who_answered_answer(weighted_survey(survey, calendar_year=2024))
    assert "Too few answered to tell apart: high-roof or long." in answer.notes
    assert answer.people["version"].to_list() == ["short", "high-roof or long", "all together"]
    assert "high-roof" not in answer.frame["version"].to_list()
    assert answer.frame.row(0, named=True)["share"] == 0.05


def test_shares_are_of_the_vehicles_on_the_road() -> None:
    answer = who_answered_answer(weighted_survey(read_survey(DEMO), calendar_year=2024))
    whole = answer.frame.row(by_predicate=pl.col("version") == "all together", named=True)
    assert whole["share"] == 130 / whole["on_the_road"]
    assert answer.people["share"][-1] == f"{100 * whole['share']:.1f}\u00a0%"


def test_wornby_read_accounts_for_the_survey_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["read", str(DEMO)]) == 0
    said = capsys.readouterr().out
    assert "survey answers" in said
    assert "vehicles on the road" in said
