"""Every row of a survey and of a population is accepted, set aside or rejected, and says why."""

from pathlib import Path

import polars as pl
import pytest
from drawn import workshop_folder
from survey.folders import LAYOUT, club_folder

from wornby.errors import EstimateError, RecordError
from wornby.records.reading import read_records
from wornby.survey.answers import Survey, holds_survey, read_population, read_survey
from wornby.survey.weighted import weighted_survey

DEMO = Path(__file__).parents[2] / "data_demo"


def fates(survey: Survey) -> dict[tuple[str, int], str]:
    """(file, row) -> reason, for every row not accepted."""
    return {(p["file"], p["row"]): p["reason"] for p in survey.problems.to_dicts()}


def test_answers_come_in_our_words_and_units(tmp_path: Path) -> None:
    survey = read_survey(club_folder(tmp_path))
    assert survey.answers.rows() == [
        ("1", 2007, "short", 84_000.0, None),
        ("2", 2007, "long", 91_500.0, None),
        ("3", 2008, "long", None, None),
    ]
    assert survey.population.row(1) == (2007, "long", 2024, 1_200.0)


def test_each_kind_of_bad_answer_has_its_reason(tmp_path: Path) -> None:
    survey = read_survey(
        club_folder(
            tmp_path,
            answers="""
            who | year         | body  | miles
            m1  | 2007         | short | 84000
               | 2007         | short | 84000
            m1  | 2008         | long  | 60000
            m4  |              | short | 84000
            m5  | 2007 or 2008 | short | 84000
            m6  | 07           | short | 84000
            m7  | 2007.5       | short | 84000
            m8  | 2007         |       | 84000
            m9  | 2007         | short | lots
            m10 | 2007         | short |
            """,
        )
    )
    assert fates(survey) == {
        ("survey.csv", 3): "no respondent",
        ("survey.csv", 4): "respondent answered twice",
        ("survey.csv", 5): "no model year",
        ("survey.csv", 6): "no model year",
        ("survey.csv", 7): "no model year",
        ("survey.csv", 8): "no model year",
        ("survey.csv", 9): "no version",
        ("survey.csv", 10): "unreadable odometer",
        ("survey.csv", 11): "no odometer",
    }
    sheets, odometers, _ = survey.ledgers
    assert (sheets.n_read, sheets.n_accepted) == (10, 3)
    assert (odometers.n_read, odometers.n_accepted) == (3, 1)
    assert survey.answers["odometer_mi"].to_list() == [84_000.0, None, None]


def test_each_kind_of_bad_count_has_its_reason(tmp_path: Path) -> None:
    survey = read_survey(
        club_folder(
            tmp_path,
            vans="""
            year | body  | counted | vans
            2007 | short | 2024    | 300
            2007 | short | 2024    | 300
            2007 | long  | 2024    | 200
            2007 | LONG  | 2024    | 210
            20xx | long  | 2024    | 200
            2008 |       | 2024    | 200
            2008 | long  |         | 200
            2008 | short | 2024    | many
            2008 | long  | 2024    | -3
            2008 | long  | 2023    | 70
            """,
        )
    )
    assert fates(survey) == {
        ("survey.csv", 4): "no odometer",
        ("population.csv", 3): "repeated row",
        ("population.csv", 4): "two numbers for the same vehicles",
        ("population.csv", 5): "two numbers for the same vehicles",
        ("population.csv", 6): "no model year",
        ("population.csv", 7): "no version",
        ("population.csv", 8): "no calendar year",
        ("population.csv", 9): "no number on the road",
        ("population.csv", 10): "no number on the road",
    }
    assert survey.population.rows() == [(2007, "short", 2024, 300.0), (2008, "long", 2023, 70.0)]


def test_a_problem_says_what_was_found_but_never_who(tmp_path: Path) -> None:
    answers = (
        "who | year | body | miles\nann@club | 2007 | short | lots\nann@club | 20xx | long | 1"
    )
    survey = read_survey(club_folder(tmp_path, answers=answers))
    unreadable = survey.problems.row(by_predicate=pl.col("column") == "odometer_mi", named=True)
    assert unreadable["value"] == "lots"
    for table in (survey.problems, survey.answers):
        assert "ann@club" not in table.write_csv()
    assert "80000" not in repr(survey)


def test_the_row_may_stand_for_the_respondent(tmp_path: Path) -> None:
    folder = club_folder(tmp_path)
    (folder / "layout.toml").write_text(LAYOUT.replace('"who"', '"row"'))
    assert read_survey(folder).answers["respondent"].to_list() == ["1", "2", "3"]


def test_a_survey_without_a_population_is_read_and_has_no_weights(tmp_path: Path) -> None:
    folder = club_folder(tmp_path)
    only_survey = LAYOUT[: LAYOUT.index('[[file]]\ntable = "population"')]
    (folder / "layout.toml").write_text(only_survey)
    survey = read_survey(folder)
    assert [ledger.what for ledger in survey.ledgers] == ["survey answers", "survey odometers"]
    with pytest.raises(EstimateError, match="'population'"):
        weighted_survey(survey, calendar_year=2024)
    with pytest.raises(RecordError, match=r"no .*table = 'population'"):
        read_population(folder)


def test_a_survey_without_one_usable_answer_says_why(tmp_path: Path) -> None:
    answers = "who | year | body | miles\nm1 | old | short | 1"
    with pytest.raises(RecordError, match=r"survey.csv: none of 1 rows .* 'no model year'"):
        read_survey(club_folder(tmp_path, answers=answers))


def test_a_layout_must_name_the_columns_that_are_needed(tmp_path: Path) -> None:
    folder = club_folder(tmp_path)
    (folder / "layout.toml").write_text(LAYOUT.replace('version = "body"\ncal', "cal"))
    with pytest.raises(RecordError, match="no column or constant for version"):
        read_survey(folder)


def test_a_workshop_without_a_survey_reads_as_before(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path, jobs="date | vehicle | text\n2015-03-01 | V1 | water pump renewed"
    )
    assert not holds_survey(folder)
    before = [ledger.what for ledger in read_records(folder).ledgers]
    text = (folder / "layout.toml").read_text()
    (folder / "layout.toml").write_text(text + LAYOUT)
    assert [ledger.what for ledger in read_records(folder).ledgers] == before


def test_the_demo_is_read_whole() -> None:
    """The invented survey: 130 respondents; 12 model years, 3 versions, 2013 to 2024."""
    survey = read_survey(DEMO)
    assert survey.answers.height == 130
    assert set(survey.problems["reason"]) == {"don't know"}
    assert survey.population.filter(calendar_year=2024).height == 36
