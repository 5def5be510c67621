"""What is told of lives from a survey, and what is not shown."""

import json
from pathlib import Path

import pytest
from survey.told import told_lives, told_survey

from wornby.cli import main
from wornby.errors import EstimateError
from wornby.reports.survey_life_answers import (
    survey_life_answer,
    survey_rule_answer,
    unread_answer,
)
from wornby.survey.cells import LEAST_ANSWERS, LEAST_BASE
from wornby.survey.survey_rules import CLUB

DEMO = Path(__file__).parents[2] / "data_demo"


def club(renewed: int, original: int, unsure: int) -> str:
    """So many members of each mind on the water pump, as a drawn table."""
    rows = [f"{2008 + n % 6} | renewed once | {2014 + n % 6}" for n in range(renewed)]
    rows += [f"{2008 + n % 6} | original |" for n in range(original)]
    rows += ["2010 | don't know |"] * unsure
    header = "who | year | water pump | water pump, when"
    return "\n".join([header, *(f"m{n} | {row}" for n, row in enumerate(rows))])


def test_a_component_has_its_answers_base_and_lives(tmp_path: Path) -> None:
    lives = told_lives(tmp_path, members=club(30, 20, 5))
    answer = survey_life_answer(lives, confidence=0.9)
    row = answer.frame.row(0, named=True)
    assert (row["answers"], row["renewed"], row["original"], row["unsure"]) == (55, 30, 20, 5)
    assert row["base"] == 50
    assert row["b10_lower"] < row["b10_value"] < row["b10_upper"] < row["b50_value"]
    assert answer.people["base"][0] == "50"
    assert "any renewal counts" in answer.notes[0]


def test_nothing_is_shown_on_a_base_under_ten(tmp_path: Path) -> None:
    lives = told_lives(tmp_path, members=club(LEAST_BASE - 6, 5, 30))
    with pytest.raises(EstimateError, match="no component has 10 original lives"):
        survey_life_answer(lives, confidence=0.9)


def test_small_numbers_of_answers_are_not_shown_nor_can_they_be_reckoned(tmp_path: Path) -> None:
    lives = told_lives(tmp_path, members=club(30, LEAST_ANSWERS - 1, 6))
    answer = survey_life_answer(lives, confidence=0.9)
    row = answer.frame.row(0, named=True)
    assert [row[cell] for cell in ("renewed", "original", "unsure")] == [None] * 3
    assert answer.people["still original"][0] == "not shown"


def test_what_no_answer_reaches_back_to_is_out_of_reach(tmp_path: Path) -> None:
    """Nearly all were renewed at a time unknown: nothing says how early."""
    rows = [f"m{n} | {2008 + n % 6} | {'renewed' if n > 5 else 'original'} |" for n in range(60)]
    members = "\n".join(["who | year | water pump | water pump, when", *rows])
    answer = survey_life_answer(told_lives(tmp_path, members=members), confidence=0.9)
    assert answer.frame["b10_value"][0] is None
    assert "out of reach" in answer.people.row(0)[6]
    assert "later" not in answer.people["note"][0]


def test_every_survey_rule_has_its_column_and_the_reason_only_where_it_was_asked(
    tmp_path: Path,
) -> None:
    survey = told_survey(tmp_path, members=club(30, 20, 5))
    answer = survey_rule_answer(survey, rule=CLUB, weights=None, confidence=0.9)
    assert "only those said to have failed count" not in answer.people.columns
    by_rule = dict(zip(answer.frame["rule"], answer.frame["value"], strict=True))
    assert by_rule["ages that can be sworn to"] > by_rule["as chosen"]
    parts = "who | part | state | when | why\n" + "\n".join(
        f"m{n} | pump | {'renewed once | 2015 | leaking' if n % 2 else 'original | |'}"
        for n in range(40)
    )
    asked = told_survey(tmp_path, members=club(0, 40, 0), parts=parts)
    answer = survey_rule_answer(asked, rule=CLUB, weights=None, confidence=0.9)
    assert "only those said to have failed count" in answer.people.columns


def test_what_was_not_understood_is_told_without_names(tmp_path: Path) -> None:
    members = club(20, 10, 0) + "\nx | 2010 | Ann knows |\ny | 2010 | ask Bob 07700 |"
    survey = told_survey(tmp_path, members=members)
    assert survey.components is not None
    said = repr(unread_answer(survey.components))
    assert "Ann" not in said
    assert "7700" not in said
    assert "00000" in said


def test_the_command_tells_lives_by_component(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["survey", str(DEMO), "--by", "component"]) == 0
    said = capsys.readouterr().out
    for part in ("as owners tell", "water pump", "don't know", "Whipple", "component lives"):
        assert part in said
    assert main(["survey", str(DEMO), "--by", "component", "--json"]) == 0
    told, _ = json.loads(capsys.readouterr().out)
    assert all(row["base"] >= LEAST_BASE for row in told["rows"])
    assert "respondent" not in told["rows"][0]


def test_the_command_tells_what_hangs_on_the_rule(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["survey", str(DEMO), "--by", "rule"]) == 0
    assert "the date is the first renewal's" in capsys.readouterr().out
    assert main(["survey", str(DEMO), "--by", "rule", "--confidence", "2"]) == 1
