"""What a club may say of shares by an age, of who kept silent, and beside a workshop's records."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from wornby.cli import main
from wornby.reports.evidence_answers import LEVEL, evidence_answer
from wornby.reports.nonresponse_answers import (
    nonresponse_answer,
    nonresponse_findings,
    shown_bounds,
    tipping_text,
)
from wornby.reports.nonresponse_figures import draw_nonresponse
from wornby.reports.survey_share_answers import survey_share_answer
from wornby.reports.workshop import open_workshop
from wornby.survey.answers import read_survey
from wornby.survey.lives import SurveyLives, survey_lives
from wornby.survey.nonresponse import Readiness, SilentBounds
from wornby.survey.publication import Publication, publishable_numbers
from wornby.survey.survey_rules import CLUB
from wornby.survey.thresholds import Thresholds
from wornby.survey.weighted import WeightedSurvey, weighted_survey

DEMO = Path(__file__).parents[2] / "data_demo"
BY = {"age": 14.0, "distance": 110_000.0}


@pytest.fixture(scope="module")
def club() -> tuple[SurveyLives, WeightedSurvey, Publication]:
    """The demo's lives, weights, and what may be published: two components, to be quick."""
    survey = read_survey(DEMO)
    weighted = weighted_survey(survey, calendar_year=2024)
    lives = survey_lives(survey, rule=CLUB, weights=weighted.answers)
    published = publishable_numbers(survey, weighted, lives, thresholds=Thresholds())
    few = published.by_component.filter(
        pl.col("component").is_in(["belt tensioner", "heater matrix"])
    )
    return (
        lives,
        weighted,
        Publication(
            published.cells, few, published.by_version, published.by_years, 0, published.thresholds
        ),
    )


@pytest.fixture(scope="module")
def findings(club: tuple[SurveyLives, WeightedSurvey, Publication]) -> list[Readiness]:
    """How the two move, of 600 members, with 20 % as the share that counts."""
    lives, weighted, published = club
    return nonresponse_findings(
        lives,
        weighted,
        published,
        by=BY,
        asked=600,
        conclusion=0.20,
        confidence=0.9,
        rng=np.random.default_rng(1),
    )


def test_shares_stand_beside_what_clubs_print_and_by_what_age(
    club: tuple[SurveyLives, WeightedSurvey, Publication],
) -> None:
    lives, weighted, published = club
    answer = survey_share_answer(
        lives, weighted, published, by=BY, confidence=0.9, rng=np.random.default_rng(1)
    )
    assert answer.people["by"].to_list() == ["110,000 miles", "14 years"]
    assert "renewed when asked" in answer.people.columns
    for row in answer.frame.to_dicts():
        assert 0 < row["weibull_lower"] < row["weibull_value"] < row["weibull_upper"] < 1
        assert row["turnbull_lower"] <= row["turnbull_value"] <= row["turnbull_upper"]
        assert row["b10_lower"] < row["b10_value"] < row["b10_upper"]
    assert any("given up because this part fails" in note for note in answer.notes)


def test_an_age_that_hardly_an_answer_tells_of_is_out_of_reach_without_a_form(
    club: tuple[SurveyLives, WeightedSurvey, Publication],
) -> None:
    lives, weighted, published = club
    early = {"age": 4.0, "distance": 5_000.0}
    answer = survey_share_answer(
        lives, weighted, published, by=early, confidence=0.9, rng=np.random.default_rng(1)
    )
    assert answer.people["by the answers alone"].to_list() == ["too few early answers to tell"] * 2
    assert answer.frame["rests_on_the_curve"].all()
    assert set(answer.people["note"]) == {
        "rests on the curve chosen; hardly an answer tells of so early a time"
    }


def test_a_finding_is_told_for_each_readiness_with_its_tipping_point(
    findings: list[Readiness], club: tuple[SurveyLives, WeightedSurvey, Publication]
) -> None:
    answer = nonresponse_answer(findings, club[2], confidence=0.9)
    told = answer.people.filter(component="heater matrix").to_dicts()[0]
    asked = ["5 times readier", "as answered", "2 times less ready", "5 times less ready"]
    assert all("%" in told[word] for word in asked)
    assert told["20\u00a0% at"] == tipping_text(findings[1])
    assert answer.frame.height == 2 * 7


def test_bounds_leave_the_numbers_behind_them_open() -> None:
    """Of 80 asked one in a hundred is less than one: steps of 5 % leave four or more open."""
    shown = shown_bounds(SilentBounds(80.0, 11, 23), Thresholds())
    assert shown == (0.10, 0.75)
    assert shown_bounds(SilentBounds(2_000.0, 111, 230), Thresholds()) == (0.05, 0.89)
    assert shown_bounds(SilentBounds(2_000.0, 3, 230), Thresholds()) is None
    assert shown_bounds(None, Thresholds()) == (0.0, 1.0)


def test_the_picture_says_what_it_shows(findings: list[Readiness]) -> None:
    drawn = draw_nonresponse(findings, Thresholds())
    assert len(drawn.drawings) == 2
    assert "if those without trouble are 5 times less ready to answer" in repr(drawn)
    assert "dashed: the stated share." in drawn.legend
    assert "Whatever the silent would say" not in repr(drawn)
    known = [replace(one, bounds=SilentBounds(80.0, 11, 23)) for one in findings]
    bounded = draw_nonresponse(known, Thresholds())
    assert "Whatever the silent would say: 10\u00a0% to 75\u00a0%" in repr(bounded)
    assert "dotted: what no silence can undo." in bounded.legend


def test_a_workshop_and_a_club_are_pooled_only_where_they_are_compatible(
    club: tuple[SurveyLives, WeightedSurvey, Publication],
) -> None:
    lives, _, published = club
    answer = evidence_answer(open_workshop(DEMO, confidence=0.9, seed=1), lives, published)
    for row in answer.frame.to_dicts():
        assert row["compatible"] == (row["p_value"] > LEVEL)
        assert (row["b10_together_value"] is not None) == row["compatible"]
    assert any("counts in both" in note for note in answer.notes)


@pytest.mark.parametrize(
    ("words", "wrong"),
    [
        (["--share", "0.2"], "--share goes with --by nonresponse"),
        (["--by", "share", "--members", "300"], "--members goes with --by nonresponse"),
        (["--by", "share", "--age", "-1"], "--age -1: wanted above 0"),
        (["--by", "nonresponse", "--share", "20"], "wanted a share between 0 and 1"),
        (["--by", "nonresponse", "--members", "20"], "wanted no more than asked"),
    ],
)
def test_what_makes_no_sense_is_refused(
    capsys: pytest.CaptureFixture[str], words: list[str], wrong: str
) -> None:
    assert main(["survey", str(DEMO), *words]) == 1
    assert wrong in capsys.readouterr().err
