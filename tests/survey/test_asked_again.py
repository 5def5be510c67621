"""A form that asks of a second renewal is told of two, each by itself."""

from pathlib import Path

import pytest
from survey.told import told_survey

from wornby.survey.answers import read_survey
from wornby.survey.lives import SurveyLives, survey_lives
from wornby.survey.survey_rules import CLUB

MEMBERS = """
who | year | registered | bought     | miles
m1  | 2010 | 2010-01-01 | 2014-01-01 | 110,000
"""


def asked_twice(folder: Path, when: str, again: str) -> SurveyLives:
    """The lives told of by one van, eleven years old at the answer."""
    parts = f"who | part | state | when | again\nm1 | pump | renewed | {when} | {again}"
    told_survey(folder, members=MEMBERS, parts=parts)
    layout = folder / "layout.toml"
    layout.write_text(f'{layout.read_text()}again = "again"\n')
    return survey_lives(read_survey(folder), rule=CLUB)


@pytest.mark.parametrize(
    ("when", "again", "first"),
    [
        ("2013", "2018", (3.0, 4.0)),
        ("2013", "", (3.0, 4.0)),
        ("before I had it", "at 85,000 miles", (0.0, 4.0)),
        ("don't know", "2018", (0.0, 11.0)),
    ],
)
def test_what_is_told_of_the_second_time_is_not_told_of_the_first(
    tmp_path: Path, when: str, again: str, first: tuple[float, float]
) -> None:
    lives = asked_twice(tmp_path, when, again).lives
    assert lives.select("lower", "upper").row(0) == pytest.approx(first, abs=0.01)


def test_both_times_told_are_two_lives_more(tmp_path: Path) -> None:
    """Fitted in 2013 and renewed in 2018, and the last in service since."""
    later = asked_twice(tmp_path, "2013", "2018").renewed["water pump"].table
    bounds = [bound for row in later.select("lower", "upper").rows() for bound in row]
    assert bounds == pytest.approx([2.5, float("inf"), 4.0, 6.0], abs=0.01)
