"""How a finding moves with the readiness to answer, and what no silence can undo."""

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from survey.told import told_survey

from wornby.errors import EstimateError
from wornby.survey.answers import read_survey
from wornby.survey.lives import SurveyLives, survey_lives
from wornby.survey.nonresponse import (
    TIMES_LESS_READY,
    Readiness,
    readiness,
    silent_bounds,
    stands_for,
    tipping_point,
)
from wornby.survey.survey_rules import CLUB
from wornby.survey.weighted import WeightedSurvey, weighted_survey

HEADER = "who | year | registered | water pump | water pump, when"
MEMBERS = 300
PUMP = "water pump"


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> tuple[SurveyLives, WeightedSurvey]:
    """A club of 300 vans of 2010; owners who had trouble are three times as ready to answer.

    Of the pumps 100 were renewed in 2016, half of the owners answering; of the 200 others one in
    six does.
    """
    renewed = [f"a{n} | 2010 | 2010-01-01 | renewed once | {2012 + n % 8}" for n in range(50)]
    original = [f"b{n} | 2010 | 2010-01-01 | original |" for n in range(33)]
    folder = tmp_path_factory.mktemp("club")
    survey = told_survey(folder, members="\n".join([HEADER, *renewed, *original]))
    weighted = weighted_survey(survey, calendar_year=2020)
    return survey_lives(survey, rule=CLUB, weights=weighted.answers), weighted


def moved(
    club: tuple[SurveyLives, WeightedSurvey], *, by: float = 11.0, conclusion: float | None = None
) -> Readiness:
    lives, weighted = club
    return readiness(
        lives,
        PUMP,
        weighted=weighted,
        by=by,
        asked=MEMBERS,
        conclusion=conclusion,
        confidence=0.9,
        rng=np.random.default_rng(1),
        n=40,
    )


def share(found: Readiness, times: float) -> float:
    return float(found.table.filter(times_less_ready=times)["share"].item())


def test_the_true_readiness_gives_the_true_share_back(
    club: tuple[SurveyLives, WeightedSurvey],
) -> None:
    """A third of all pumps were renewed; the Weibull's own misfit is a few in a hundred."""
    found = moved(club)
    assert share(found, 1.0) == pytest.approx(50 / 83, abs=0.06)
    assert share(found, 3.0) == pytest.approx(100 / 300, abs=0.04)


def test_the_share_falls_as_those_without_trouble_are_taken_to_be_less_ready(
    club: tuple[SurveyLives, WeightedSurvey],
) -> None:
    table = moved(club).table
    assert table["times_less_ready"].to_list() == list(TIMES_LESS_READY)
    assert (np.diff(table["share"].to_numpy()) < 0).all()
    assert (table["lower"] < table["share"]).all()
    assert (table["share"] < table["upper"]).all()


def test_the_tipping_point_is_where_the_share_is_the_conclusion(
    club: tuple[SurveyLives, WeightedSurvey],
) -> None:
    lives, weighted = club
    tips = moved(club, conclusion=share(moved(club), 3.0)).tips_at
    assert tips == pytest.approx(3.0, rel=0.01)
    never = tipping_point(lives, PUMP, weighted=weighted, by=11.0, conclusion=0.001)
    assert never is None


def test_bounds_take_nothing_of_the_silent(club: tuple[SurveyLives, WeightedSurvey]) -> None:
    """By ten years 50 of 300 are told to have failed, 33 to work: between 1/6 and 1 - 33/300."""
    bounds = moved(club, by=10.0).bounds
    assert bounds is not None
    assert (bounds.said_failed, bounds.said_working) == (50, 33)
    assert (bounds.least, bounds.most) == pytest.approx((50 / 300, 1 - 33 / 300))
    assert bounds.least < 100 / 300 < bounds.most


def test_bounds_speak_of_vehicles_old_enough(tmp_path: Path) -> None:
    rows = [f"m{n} | {2008 + n % 8} | | original |" for n in range(160)]
    survey = told_survey(tmp_path, members="\n".join([HEADER, *rows]))
    road = pl.DataFrame({"year": range(2008, 2016), "body": "short", "counted": 2020, "vans": 50})
    road.write_csv(tmp_path / "population.csv")
    weighted = weighted_survey(read_survey(tmp_path), calendar_year=2020)
    lives = survey_lives(survey, rule=CLUB, weights=weighted.answers)
    bounds = silent_bounds(lives, PUMP, weighted=weighted, by=10.0, asked=800)
    assert bounds is not None
    assert (bounds.asked, bounds.said_failed, bounds.said_working) == (300.0, 0, 60)


def test_fewer_asked_than_answered_is_refused(club: tuple[SurveyLives, WeightedSurvey]) -> None:
    lives, weighted = club
    with pytest.raises(EstimateError, match="wanted no more than asked"):
        silent_bounds(lives, PUMP, weighted=weighted, by=10.0, asked=20)


def test_a_conclusion_is_a_share_and_a_readiness_is_above_nought(
    club: tuple[SurveyLives, WeightedSurvey],
) -> None:
    lives, weighted = club
    with pytest.raises(ValueError, match="wanted a share between 0 and 1"):
        moved(club, conclusion=20.0)
    with pytest.raises(ValueError, match="wanted above 0"):
        stands_for(lives, PUMP, weighted=weighted, times_less_ready=0.0)
