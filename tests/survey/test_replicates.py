"""Replicates: a survey weighed again as chance might have sent it."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy.stats import beta, norm

from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import Counts
from wornby.survey.answers import Survey, read_survey
from wornby.survey.design_intervals import (
    WeightedLives,
    on_grid,
    turnbull_share,
    weighted_lives,
    weighted_weibull,
)
from wornby.survey.lives import SurveyLives, survey_lives
from wornby.survey.replicates import (
    OFTEN_COUNTS,
    SELDOM,
    SELDOM_COUNTS,
    replicate_weights,
    reraked,
)
from wornby.survey.survey_rules import CLUB
from wornby.survey.weighted import WeightedSurvey, weighted_survey
from wornby.survey.weighting import rake

DEMO = Path(__file__).parents[2] / "data_demo"
COMPONENT = "heater matrix"


@pytest.fixture(scope="module")
def survey() -> Survey:
    """The demo's survey."""
    return read_survey(DEMO)


@pytest.fixture(scope="module")
def weighted(survey: Survey) -> WeightedSurvey:
    """The demo's survey, weighted to the last year counted."""
    return weighted_survey(survey, calendar_year=2024)


@pytest.fixture(scope="module")
def lives(survey: Survey, weighted: WeightedSurvey) -> SurveyLives:
    """The lives it tells of."""
    return survey_lives(survey, rule=CLUB, weights=weighted.answers)


@pytest.fixture(scope="module")
def matrices(lives: SurveyLives, weighted: WeightedSurvey) -> WeightedLives:
    """Heater matrices with 200 replicates."""
    weights = replicate_weights(weighted, rng=np.random.default_rng(1), n=200)
    return weighted_lives(lives, COMPONENT, weighted=weighted, weights=weights)


def test_the_first_weights_are_the_surveys_own(weighted: WeightedSurvey) -> None:
    weights = replicate_weights(weighted, rng=np.random.default_rng(1), n=2)
    assert weights[0] == pytest.approx(weighted.answers["weight"].to_numpy())
    assert weights.mean(axis=1) == pytest.approx(1.0)


def test_each_replicate_meets_the_totals_as_raking_by_itself_does(weighted: WeightedSurvey) -> None:
    rng = np.random.default_rng(2)
    factors = rng.uniform(0.2, 3, weighted.answers.height)
    answers = weighted.answers
    row, column = (
        np.unique(answers[name].to_numpy(), return_inverse=True)[1]
        for name in ("weight_group", "version_group")
    )
    known = weighted.raked.table
    seed = np.zeros_like(known)
    np.add.at(seed, (row, column), factors)
    alone = rake(seed, [known.sum(axis=1), known.sum(axis=0)])
    wanted = factors * alone.weights[row, column]
    found = reraked(weighted, factors[None, :])[0]
    assert found == pytest.approx(wanted * answers.height / wanted.sum(), rel=1e-6)


def test_an_answer_that_counts_for_nothing_is_refused(weighted: WeightedSurvey) -> None:
    with pytest.raises(ValueError, match="above 0"):
        reraked(weighted, np.zeros((1, weighted.answers.height)))


def test_an_answer_counts_as_often_as_it_would_be_drawn_in_three_moments() -> None:
    """Mean, variance and skewness of Mammen's two points (1993, section 1) are 1, as Poisson's."""
    points = np.array([OFTEN_COUNTS, SELDOM_COUNTS])
    chance = np.array([1 - SELDOM, SELDOM])
    mean = chance @ points
    moments = [mean, *(chance @ (points - mean) ** power for power in (2, 3))]
    assert moments == pytest.approx([1.0, 1.0, 1.0])


def test_the_curve_is_that_of_the_weighted_counts(
    lives: SurveyLives, matrices: WeightedLives
) -> None:
    assert matrices.counts.table.height == lives.counts[COMPONENT].table.height
    assert matrices.counts.n_lives == pytest.approx(lives.counts[COMPONENT].n_lives)
    ours, theirs = weighted_weibull(matrices).curve, weighted_weibull(matrices).curve.counts
    assert theirs is matrices.counts
    share = weighted_weibull(matrices).share_failed(12.0, confidence=0.9)
    assert share.value == pytest.approx(1 - float(ours.survival(12.0)))


def test_limits_lie_either_side_and_further_apart_with_more_confidence(
    matrices: WeightedLives,
) -> None:
    fitted = weighted_weibull(matrices)
    asked: tuple[Callable[[float], Estimate], ...] = (
        lambda c: fitted.share_failed(12.0, confidence=c),
        lambda c: fitted.b_life(0.1, confidence=c),
        lambda c: turnbull_share(matrices, 14.0, confidence=c),
    )
    for told in asked:
        narrow, wide = told(0.8), told(0.95)
        limits = [wide.lower, narrow.lower, narrow.value, narrow.upper, wide.upper]
        assert (np.diff(np.array(limits, dtype=float)) > 0).all()


def test_the_design_leaves_about_what_equal_answers_would(matrices: WeightedLives) -> None:
    """Standard error of the log hazard by replicates against that of the effective number."""
    fitted = weighted_weibull(matrices)
    told = fitted.share_failed(12.0, confidence=0.9)
    ends = np.log(-np.log1p(-np.array([told.lower, told.upper], dtype=float)))
    by_design = float(ends[1] - ends[0]) / 2 / norm.ppf(0.95)
    gap = np.log(12.0) - np.log(fitted.curve.scale)
    slope = np.array([-fitted.curve.shape, fitted.curve.shape * gap])
    by_number = float(np.sqrt(slope @ fitted.curve.covariance @ slope))
    assert by_design == pytest.approx(by_number, rel=0.4)


def few_lives(lower: list[float], upper: list[float], count: list[float]) -> WeightedLives:
    """Lives with weights of 1 and two replicates alike."""
    table = pl.DataFrame({"entry": 0.0, "lower": lower, "upper": upper, "count": count})
    return WeightedLives(Counts(table, "years", "pump", "as told"), np.array([count, count]))


def test_nothing_failed_is_bounded_by_those_who_could_have_said_so() -> None:
    """40 worked until 5 years, 20 failed later: 1 - 0.05^(1/60) (Clopper & Pearson 1934)."""
    told = few_lives([5.0, 6.0], [np.inf, 8.0], [40.0, 20.0])
    early = turnbull_share(told, 5.0, confidence=0.9)
    assert (early.value, early.lower) == (0.0, 0.0)
    assert early.upper == pytest.approx(1 - 0.05 ** (1 / 60))


def with_replicates(lives: WeightedLives, *rows: list[float]) -> WeightedLives:
    """The same lives, weighed again as these rows say."""
    return WeightedLives(lives.counts, np.array(rows))


def test_replicates_that_cannot_tell_are_counted_not_lost() -> None:
    """Two replicates of four weigh hardly anything but the failures at 4 years."""
    ages = [4.0, 6.0, 7.0, 9.0, 12.0]
    told = few_lives([*ages, 10.0], [*ages, np.inf], [4.0, 3.0, 3.0, 3.0, 4.0, 9.0])
    rows = [told.counts.table["count"].to_list(), [3.0, 4.0, 2.0, 4.0, 4.0, 8.0]]
    one_age = [25.0] + [1e-20] * 5
    share = turnbull_share(with_replicates(told, *rows, one_age, one_age), 8.0, confidence=0.9)
    assert share.note.startswith("2 of 4 replicates of the survey have no curve there")
    fitted = weighted_weibull(with_replicates(told, *rows, [25.0] + [0.0] * 5))
    assert fitted.dropped == 1
    assert fitted.slope.size == 2
    for estimate in (
        fitted.share_failed(8.0, confidence=0.9),
        fitted.b_life(0.1, confidence=0.9),
    ):
        assert "1 of 3 replicates of the survey" in estimate.note
    whole = weighted_weibull(with_replicates(told, *rows))
    assert (whole.dropped, whole.share_failed(8.0, confidence=0.9).note) == (0, "")


def test_with_hardly_a_replicate_left_there_is_no_scatter_to_tell() -> None:
    """Where Turnbull's curve stands limits fall back on the answers that could have said so."""
    ages = [4.0, 6.0, 7.0, 9.0, 12.0]
    told = few_lives([*ages, 10.0], [*ages, np.inf], [4.0, 3.0, 3.0, 3.0, 4.0, 9.0])
    one_age = [25.0] + [1e-20] * 5
    with pytest.raises(EstimateError, match="0 of 2 replicates of the survey have a curve"):
        weighted_weibull(with_replicates(told, *[[25.0] + [0.0] * 5] * 2))
    share = turnbull_share(with_replicates(told, one_age, one_age), 8.0, confidence=0.9)
    # by hand: 10 of 26 failed by 8, and all 26 say whether they had (Clopper & Pearson 1934)
    assert share.value == pytest.approx(10 / 26)
    assert share.lower == pytest.approx(beta.ppf(0.05, 10, 17))
    assert share.upper == pytest.approx(beta.ppf(0.95, 11, 16))


def test_what_hardly_an_answer_tells_of_is_out_of_reach() -> None:
    told = few_lives([0.0, 15.0], [14.0, np.inf], [40.0, 20.0])
    assert turnbull_share(told, 5.0, confidence=0.9).value is None


def test_bounds_go_outward_to_steps_and_ends_of_the_watch_stay_open() -> None:
    told = few_lives([5.2, 6.0, 3.1], [np.inf, 8.0, 3.2], [1.0, 1.0, 1.0]).counts
    assert on_grid(told).table.select("lower", "upper").rows() == [
        (5.0, np.inf),
        (6.0, 8.0),
        (3.0, 3.5),
    ]


def test_an_age_that_is_none_is_refused(matrices: WeightedLives) -> None:
    with pytest.raises(ValueError, match="wanted above 0"):
        weighted_weibull(matrices).share_failed(0.0, confidence=0.9)
