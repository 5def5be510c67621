"""The club's letter: its findings agree with its tables and show no small number."""

import re
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

from wornby.reports.answer import Answer
from wornby.reports.club import Club, open_club
from wornby.reports.club_answers import (
    club_share_answer,
    club_survey_answer,
    club_version_answer,
    look_for_answer,
    silence,
    silence_answer,
)
from wornby.reports.club_letter import club_findings, club_method, press_words
from wornby.reports.sentences import Sentences
from wornby.reports.spreadsheets import exported
from wornby.reports.survey_tables import hiding_note

DEMO = Path(__file__).parents[2] / "data_demo"


@pytest.fixture(scope="module")
def club() -> Club:
    """The demo's club."""
    return open_club(DEMO, confidence=0.90, seed=1)


@pytest.fixture(scope="module")
def shares(club: Club) -> Answer:
    """Its shares renewed by twelve years or 100,000 miles."""
    return club_share_answer(club, age_years=12.0, distance=100_000.0)


@pytest.fixture(scope="module")
def silent(club: Club) -> Answer:
    """How the shares move with who kept silent."""
    return silence_answer(club, silence(club, age_years=12.0, distance=100_000.0))


@pytest.fixture(scope="module")
def versions(club: Club) -> Answer:
    """Its lives by version."""
    return club_version_answer(club)


def test_each_component_has_one_sentence_with_its_range_and_base(
    club: Club, shares: Answer
) -> None:
    _, *told = club_findings(club, shares).sentences

    assert len(told) == shares.frame.height
    for sentence in told:
        assert " to " in sentence
        assert re.search(r"; base: worth \d+ answers\.$", sentence)


def test_what_gives_out_soonest_stands_first(club: Club, shares: Answer) -> None:
    _, *told = club_findings(club, shares).sentences
    found = [int(re.findall(r"(\d+)\u00a0%", sentence)[0]) for sentence in told]

    assert found == sorted(found, reverse=True)


def test_the_letter_begins_with_whose_answers_they_are_and_from_when(
    club: Club, shares: Answer
) -> None:
    first = club_findings(club, shares).sentences[0]

    assert first.startswith("Merrow Circle: 130 answers given in December 2024, weighted to")
    assert first.endswith(club.note)
    assert club.note.startswith("Invented")
    unnamed = club_findings(replace(club, name="", answered="", note=""), shares).sentences[0]
    assert unnamed.startswith("The club: 130 answers, weighted to the 6,992 vehicles on the road")


def test_the_press_gets_a_line_to_print_and_no_finding_again(club: Club, shares: Answer) -> None:
    press = " ".join(press_words(club).sentences)

    assert "Survey of Merrow Circle, 130 answers given in December 2024" in press
    assert not any(name in press for name in shares.frame["component"])


def test_why_a_number_is_withheld_is_said_once(
    club: Club, shares: Answer, versions: Answer, silent: Answer
) -> None:
    said = hiding_note(club.published.thresholds)
    tables = [shares, versions, silent, club_survey_answer(club)]

    assert club_method(club).sentences.count(said) == 1
    for table in tables:
        assert said not in table.notes
        withheld = any("not shown" in column for column in table.people)
        assert any(note.startswith("Not shown:") for note in table.notes) == withheld


def test_tables_leave_with_a_number_or_a_reason_in_each_row(
    versions: Answer, silent: Answer
) -> None:
    """What the page withholds is empty in the file; there is no number that the page has not."""
    page = {
        (row["component"], version): row[version]
        for row in versions.people.to_dicts()
        for version in versions.people.columns[1:]
    }
    for row in exported(versions).to_dicts():
        cell = page[row["component"], row["version"]]
        assert (row["b10_value"] is None) == (cell in ("not shown", "out of reach"))
        assert (row["b10_lower"] is None) == (row["b10_value"] is None) == bool(row["reason"])
        assert ("not shown" in row["reason"]) == (cell == "not shown")
    bounds = dict(silent.people.select("component", silent.people.columns[-1]).iter_rows())
    for row in exported(silent).to_dicts():
        withheld = bounds[row["component"]] == "not shown"
        assert (row["share_least"] is None) == (row["share_most"] is None) == withheld
        assert bool(row["reason"]) == withheld
    for table in (versions, silent):
        texts = {name for name, kind in exported(table).schema.items() if kind == pl.String}
        assert texts <= {"component", "version", "unit", "reason"}


def test_sentence_and_table_round_alike(club: Club, shares: Answer) -> None:
    sentences = " ".join(club_findings(club, shares).sentences)

    for share in shares.people["renewed by then (90% interval)"]:
        assert f" {share} had been renewed" in sentences
    for life in shares.people["B10 life"]:
        assert life == "out of reach" or f"one in ten by {life};" in sentences


def test_a_version_whose_numbers_are_withheld_has_no_life_of_its_own(
    club: Club, versions: Answer
) -> None:
    shown = versions.frame.drop_nulls("b10_value")
    told = {(row["component"], row["version"]): row for row in club.published.by_version.to_dicts()}

    for component, version in shown.select("component", "version").iter_rows():
        assert told[component, version]["renewed"] >= club.published.thresholds.minimum_cell
        assert told[component, version]["original"] is not None


def test_looking_begins_where_one_in_ten_may_have_gone(club: Club, shares: Answer) -> None:
    answer = look_for_answer(club, shares)
    lower = dict(shares.frame.select("component", "b10_lower").iter_rows())

    assert isinstance(answer, Answer)
    assert {row["component"]: row["from"] for row in answer.frame.to_dicts()} == lower
    assert any("scalds" in note for note in answer.notes)
    assert any("from members' answers" in note for note in answer.notes)
    assert not any("past jobs" in note for note in answer.notes)


def test_a_club_without_a_catalogue_says_what_is_left_out(club: Club, shares: Answer) -> None:
    bare = Club(
        club.survey,
        club.weighted,
        club.lives,
        club.published,
        catalogue={},
        confidence=club.confidence,
        seed=club.seed,
    )

    left_out = look_for_answer(bare, shares)

    assert isinstance(left_out, Sentences)
    assert "no workshop.toml" in left_out.sentences[0]


def test_the_method_says_what_the_answers_are_worth(club: Club) -> None:
    told = " ".join(club_method(club).sentences)

    assert f"{club.weighted.answers.height:,} answers" in told
    assert f"worth {club.weighted.effective_sample_size:.0f} of equal weight" in told


def test_nothing_in_the_letter_speaks_of_the_command_line(
    club: Club, shares: Answer, silent: Answer
) -> None:
    notes = [*shares.notes, *silent.notes, *club_survey_answer(club).notes]

    for note in (*notes, *club_method(club).sentences):
        assert "--" not in note
        assert "wornby" not in note
