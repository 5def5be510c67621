"""The club's letter: its findings agree with its tables and show no small number."""

import re
from pathlib import Path

import pytest

from wornby.reports.answer import Answer
from wornby.reports.club import Club, open_club
from wornby.reports.club_answers import (
    club_findings,
    club_method,
    club_share_answer,
    club_survey_answer,
    club_version_answer,
    look_for_answer,
    press_answer,
    silence,
    silence_answer,
)
from wornby.reports.sentences import Sentences

DEMO = Path(__file__).parents[2] / "data_demo"


@pytest.fixture(scope="module")
def club() -> Club:
    """The demo's club."""
    return open_club(DEMO, confidence=0.90, seed=1)


@pytest.fixture(scope="module")
def shares(club: Club) -> Answer:
    """Its shares renewed by twelve years or 100,000 miles."""
    return club_share_answer(club, age_years=12.0, distance_mi=100_000.0)


def test_each_component_has_one_sentence_with_its_range_and_base(shares: Answer) -> None:
    told = club_findings(shares).sentences

    assert len(told) == shares.frame.height
    for sentence in told:
        assert " to " in sentence
        assert re.search(r"; base: worth \d+ answers\.$", sentence)


def test_what_gives_out_soonest_stands_first(shares: Answer) -> None:
    found = press_answer(shares).frame["share_renewed"].to_list()

    assert found == sorted(found, reverse=True)


def test_the_press_gets_the_numbers_of_the_table(shares: Answer) -> None:
    press = {row["component"]: row for row in press_answer(shares).frame.to_dicts()}

    for row in shares.frame.to_dicts():
        told = press[row["component"]]
        assert told["share_renewed"] == row["weibull_value"]
        assert told["b10_value"] == row["b10_value"]
        assert told["confidence"] == 0.90


def test_sentence_and_table_round_alike(shares: Answer) -> None:
    sentences = " ".join(club_findings(shares).sentences)

    for share in shares.people["renewed by then (90% interval)"]:
        assert f" {share} had been renewed" in sentences
    for life in shares.people["B10 life"]:
        assert life == "out of reach" or f"one in ten by {life};" in sentences


def test_a_version_whose_numbers_are_withheld_has_no_life_of_its_own(club: Club) -> None:
    shown = club_version_answer(club).frame
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


def test_a_letter_on_invented_answers_says_so(club: Club) -> None:
    assert club_method(club).sentences[0] == club.note
    assert club.note.startswith("Invented")


def test_nothing_in_the_letter_speaks_of_the_command_line(club: Club, shares: Answer) -> None:
    silent = silence_answer(club, silence(club, age_years=12.0, distance_mi=100_000.0))
    notes = [*shares.notes, *silent.notes, *club_survey_answer(club).notes]

    for note in (*notes, *club_method(club).sentences):
        assert "--" not in note
        assert "wornby" not in note
