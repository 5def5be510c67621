"""Weighted answers stand for the vehicles on the road."""

from pathlib import Path

import polars as pl
import pytest
from survey.folders import club_folder, members, on_the_road

from wornby.errors import EstimateError
from wornby.survey.answers import Survey, read_survey
from wornby.survey.cells import LEAST_ANSWERS
from wornby.survey.weighted import NOT_ON_THE_ROAD, WeightedSurvey, latest_count, weighted_survey

DEMO = Path(__file__).parents[2] / "data_demo"


@pytest.fixture(scope="module")
def demo() -> Survey:
    """The demo's survey."""
    return read_survey(DEMO)


@pytest.fixture(scope="module")
def weighted(demo: Survey) -> WeightedSurvey:
    """The demo's survey, weighted to the last year counted."""
    return weighted_survey(demo, calendar_year=latest_count(demo))


def test_weights_are_one_on_average_and_above_nothing(weighted: WeightedSurvey) -> None:
    assert weighted.answers["weight"].mean() == pytest.approx(1)
    assert weighted.answers["weight"].min() > 0  # type: ignore[operator]  # a minimum of floats


def test_each_version_has_its_share_of_the_road(demo: Survey, weighted: WeightedSurvey) -> None:
    road = demo.population.filter(calendar_year=2024)
    there = road.group_by("version").agg(pl.col("on_the_road").sum() / road["on_the_road"].sum())
    said = weighted.answers.group_by("version").agg(pl.col("weight").sum() / 130)
    both = there.join(said, on="version")
    assert both["weight"].to_list() == pytest.approx(both["on_the_road"].to_list())


def test_a_model_year_that_answers_twice_as_readily_counts_half(tmp_path: Path) -> None:
    """And longs three times as readily as shorts: 2 % to 12 % of the vans of each kind answer."""
    answers = members(
        (2007, "short", 8), (2007, "long", 12), (2008, "short", 8), (2008, "long", 36)
    )
    road = on_the_road(
        (2007, "short", 400), (2007, "long", 200), (2008, "short", 200), (2008, "long", 300)
    )
    told = weighted_survey(
        read_survey(club_folder(tmp_path, answers=answers, vans=road)), calendar_year=2024
    )
    vans = told.cells["weight"] * told.cells["answered"] * 1_100 / 64
    assert vans.to_list() == pytest.approx(told.cells["on_the_road"].to_list())


def test_cells_shown_add_up_to_all_answers_and_all_vehicles(
    demo: Survey, weighted: WeightedSurvey
) -> None:
    cells = weighted.cells
    assert cells["answered"].min() >= LEAST_ANSWERS  # type: ignore[operator]  # of whole numbers
    assert cells["answered"].sum() == weighted.ledger.n_accepted == 130
    road = demo.population.filter(calendar_year=2024)
    assert cells["on_the_road"].sum() == road["on_the_road"].sum()
    by_years = cells.group_by("model_year_from").agg(
        pl.col("on_the_road").sum(), weighed=(pl.col("weight") * pl.col("answered")).sum()
    )
    rate = by_years["weighed"] / by_years["on_the_road"]
    assert rate.to_list() == pytest.approx([130 / road["on_the_road"].sum()] * by_years.height)


def test_answers_in_proportion_need_no_weights(tmp_path: Path) -> None:
    cells = [(2007, "short", 10), (2007, "long", 20), (2008, "short", 30), (2008, "long", 5)]
    road = on_the_road(*((year, body, 40 * n) for year, body, n in cells))
    survey = read_survey(club_folder(tmp_path, answers=members(*cells), vans=road))
    told = weighted_survey(survey, calendar_year=2024)
    assert told.answers["weight"].to_list() == pytest.approx([1.0] * 65)
    assert told.effective_sample_size == pytest.approx(65)


def test_two_versions_by_hand(tmp_path: Path) -> None:
    """10 of 30 answers are of longs, half of the vans: each counts 1.5, the others 0.75."""
    answers = members((2007, "short", 20), (2007, "long", 10))
    road = on_the_road((2007, "short", 500), (2007, "long", 500))
    told = weighted_survey(
        read_survey(club_folder(tmp_path, answers=answers, vans=road)), calendar_year=2024
    )
    assert told.cells.select("version", "answered", "weight").rows() == [
        ("long", 10, pytest.approx(1.5)),
        ("short", 20, pytest.approx(0.75)),
    ]
    assert told.effective_sample_size == pytest.approx(30**2 / (10 * 1.5**2 + 20 * 0.75**2))


def test_an_answer_for_no_vehicle_on_the_road_is_set_aside(tmp_path: Path) -> None:
    answers = members((2007, "short", 9), (2007, "coupé", 1), (1999, "short", 2), (2008, "long", 1))
    road = on_the_road((2007, "short", 500), (2008, "long", 0))
    told = weighted_survey(
        read_survey(club_folder(tmp_path, answers=answers, vans=road)), calendar_year=2024
    )
    assert told.ledger.set_aside == {NOT_ON_THE_ROAD: 4}
    assert told.answers.height == 9


def test_a_survey_of_a_handful_is_refused(tmp_path: Path) -> None:
    answers, road = members((2007, "short", 4)), on_the_road((2007, "short", 500))
    survey = read_survey(club_folder(tmp_path, answers=answers, vans=road))
    with pytest.raises(EstimateError, match=r"4 answers .* wanted at least 5"):
        weighted_survey(survey, calendar_year=2024)


def test_a_year_without_a_count_is_refused(demo: Survey) -> None:
    with pytest.raises(EstimateError, match=r"no vehicle on the road in 2030: .* 2013 to 2024"):
        weighted_survey(demo, calendar_year=2030)


def test_no_answer_is_printed_with_the_result(weighted: WeightedSurvey) -> None:
    assert "respondent" not in repr(weighted)
    assert "raked" not in repr(weighted)
