"""What is told of lives from a survey, and what is not shown."""

import json
from pathlib import Path

import pytest
from survey.told import told_survey

from wornby.cli import main
from wornby.errors import EstimateError
from wornby.reports.answer import Answer
from wornby.reports.survey_life_answers import survey_life_answer, unread_answer
from wornby.reports.survey_rule_answers import survey_rule_answer
from wornby.reports.survey_tables import survey_curve_answer
from wornby.survey.answers import Survey, read_survey
from wornby.survey.lives import SurveyLives, survey_lives
from wornby.survey.publication import Publication, publishable_numbers
from wornby.survey.survey_rules import CLUB
from wornby.survey.thresholds import Thresholds
from wornby.survey.weighted import weighted_survey

DEMO = Path(__file__).parents[2] / "data_demo"


def club(renewed: int, original: int, unsure: int) -> str:
    """So many members of each mind on the water pump, as a drawn table."""
    rows = [f"{2008 + n % 6} | renewed once | {2014 + n % 6}" for n in range(renewed)]
    rows += [f"{2008 + n % 6} | original |" for n in range(original)]
    rows += ["2010 | don't know |"] * unsure
    header = "who | year | water pump | water pump, when"
    return "\n".join([header, *(f"m{n} | {row}" for n, row in enumerate(rows))])


def published(survey: Survey) -> tuple[SurveyLives, Publication]:
    """What a survey's answers make, and what may be published of them."""
    weighted = weighted_survey(survey, calendar_year=2020)
    lives = survey_lives(survey, rule=CLUB, weights=weighted.answers)
    return lives, publishable_numbers(survey, weighted, lives, thresholds=Thresholds())


def club_survey(folder: Path, members: str) -> Survey:
    """A drawn club, with vans of all its model years on the road."""
    told_survey(folder, members=members)
    vans = "".join(f"{year},short,2020,100\n" for year in range(2008, 2014))
    (folder / "population.csv").write_text("year,body,counted,vans\n" + vans)
    return read_survey(folder)


def life_answer(folder: Path, members: str) -> Answer:
    """The lives that a drawn club tells of."""
    return survey_life_answer(*published(club_survey(folder, members)), confidence=0.9)


def test_a_component_has_its_answers_base_and_lives(tmp_path: Path) -> None:
    answer = life_answer(tmp_path, club(30, 20, 5))
    row = answer.frame.row(0, named=True)
    assert (row["answers"], row["renewed"], row["original"], row["unsure"]) == (55, 30, 20, 5)
    assert row["base"] == 50
    assert row["b10_lower"] < row["b10_value"] < row["b10_upper"] < row["b50_value"]
    assert answer.people["base"][0] == "50"
    assert "any renewal counts" in answer.notes[0]


def test_nothing_is_shown_on_a_base_under_ten(tmp_path: Path) -> None:
    with pytest.raises(EstimateError, match="no component has 10 original lives"):
        life_answer(tmp_path, club(4, 5, 30))


def test_small_numbers_of_answers_are_not_shown_nor_can_they_be_reckoned(tmp_path: Path) -> None:
    """4 are original: neither they nor those renewed may be told, or one gives the other away.

    That 6 do not know follows from 34 lives of 40 answers, told or not, and opens neither.
    """
    answer = life_answer(tmp_path, club(30, 4, 6))
    row = answer.frame.row(0, named=True)
    assert (row["answers"], row["base"]) == (40, 34)
    assert [row[cell] for cell in ("renewed", "original", "share")] == [None] * 3
    assert row["unsure"] in (None, 6)
    assert answer.people["still original"][0] == "not shown"


def test_what_no_answer_reaches_back_to_is_out_of_reach(tmp_path: Path) -> None:
    """Nearly all were renewed at a time unknown: nothing says how early."""
    rows = [f"m{n} | {2008 + n % 6} | {'renewed' if n > 5 else 'original'} |" for n in range(60)]
    members = "\n".join(["who | year | water pump | water pump, when", *rows])
    answer = life_answer(tmp_path, members)
    assert answer.frame["b10_value"][0] is None
    assert "out of reach" in answer.people.row(0)[7]
    assert "later" not in answer.people["note"][0]


def test_every_survey_rule_has_its_column_and_the_reason_only_where_it_was_asked(
    tmp_path: Path,
) -> None:
    survey = told_survey(tmp_path, members=club(30, 20, 5))
    answer = survey_rule_answer(
        survey, rule=CLUB, weights=None, confidence=0.9, thresholds=Thresholds()
    )
    assert "only those said to have failed count" not in answer.people.columns
    by_rule = dict(zip(answer.frame["rule"], answer.frame["value"], strict=True))
    assert by_rule["ages that can be sworn to"] > by_rule["as chosen"]
    parts = "who | part | state | when | why\n" + "\n".join(
        f"m{n} | pump | {'renewed once | 2015 | leaking' if n % 2 else 'original | |'}"
        for n in range(40)
    )
    asked = told_survey(tmp_path, members=club(0, 40, 0), parts=parts)
    answer = survey_rule_answer(
        asked, rule=CLUB, weights=None, confidence=0.9, thresholds=Thresholds()
    )
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
    assert main(["survey", str(DEMO), "--by", "component", "--desk"]) == 0
    said = capsys.readouterr().out
    for part in ("as owners tell", "water pump", "don't know", "Whipple", "component lives"):
        assert part in said
    assert main(["survey", str(DEMO), "--by", "component", "--json"]) == 0
    (told,) = json.loads(capsys.readouterr().out)
    assert all(row["base"] >= 10 for row in told["rows"])
    assert "respondent" not in told["rows"][0]


def test_the_command_tells_what_hangs_on_the_rule(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["survey", str(DEMO), "--by", "rule"]) == 0
    assert "the date is the first renewal's" in capsys.readouterr().out
    assert main(["survey", str(DEMO), "--by", "rule", "--confidence", "2"]) == 1


def test_few_renewals_are_not_told_by_their_lives_either(tmp_path: Path) -> None:
    """Three of 43 were renewed; how early would say so."""
    survey = club_survey(tmp_path, club(3, 40, 10))
    lives, may = published(survey)
    assert may.by_component["renewed"].to_list() == [None]
    assert may.by_component["lives_shown"].to_list() == [False]
    with pytest.raises(EstimateError, match="nothing is"):
        survey_life_answer(lives, may, confidence=0.9)
    with pytest.raises(EstimateError, match="nothing is shown"):
        survey_rule_answer(survey, rule=CLUB, weights=None, confidence=0.9, thresholds=Thresholds())


def test_numbers_for_programs_have_three_digits(tmp_path: Path) -> None:
    row = life_answer(tmp_path, club(30, 20, 5)).frame.row(0, named=True)
    for name in ("shape", "scale", "b10_value", "b10_lower", "b50_upper"):
        assert row[name] == float(f"{row[name]:.3g}")


def test_a_curve_falls_at_whole_years_by_five_and_more(tmp_path: Path) -> None:
    answer = survey_curve_answer(*published(club_survey(tmp_path, club(40, 60, 5))))
    steps = answer.frame
    assert (steps["at"] % 1 == 0).all()
    falls = -steps["survival"].diff().drop_nulls() * 100
    assert falls.len() >= 1
    assert (falls >= 5).all()
    assert (steps["watched"] % 5 == 0).all()


@pytest.mark.parametrize("by", ["version", "model-year", "curve"])
def test_the_command_tells_numbers_by_group_and_curves(
    capsys: pytest.CaptureFixture[str], by: str
) -> None:
    assert main(["survey", str(DEMO), "--by", by, "--json"]) == 0
    (told,) = json.loads(capsys.readouterr().out)
    assert not {"respondent", "weight", "lower", "upper"} & set(told["rows"][0])
