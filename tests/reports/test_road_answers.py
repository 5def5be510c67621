"""What is said of distances and of the vehicles on the road, on the demo and on small stories."""

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from drawn import workshop_folder

from wornby.errors import EstimateError
from wornby.reports.distance_answers import distance_doubt_answer, pace_answer
from wornby.reports.life_answers import b10_life
from wornby.reports.population_answers import (
    population_answer,
    population_rate_answer,
    reconciliation_answer,
)
from wornby.reports.workshop import Workshop, open_workshop
from wornby.survey.answers import read_survey

DEMO = Path(__file__).parents[2] / "data_demo"


@pytest.fixture(scope="module")
def demo() -> Workshop:
    """The demo, opened."""
    return open_workshop(DEMO, confidence=0.90, seed=1)


@pytest.fixture(scope="module")
def road() -> pl.DataFrame:
    """The demo's vehicles on the road."""
    return read_survey(DEMO).population


def test_each_part_that_wears_by_distance_is_told_with_and_without_the_odometers_doubt(
    demo: Workshop,
) -> None:
    """The demo's vans are driven evenly, so that readings tell nearly all: the demo's own truth."""
    made = distance_doubt_answer(demo).frame
    by_distance = [n for n, c in demo.catalogue.components.items() if c.scale == "distance"]
    assert made["component"].to_list() == by_distance
    for row in made.to_dicts():
        b10 = b10_life(demo.original[row["component"]], confidence=0.90)
        assert row["b10_fixed_value"] == pytest.approx(b10.value)
        assert row["b10_uncertain_value"] == pytest.approx(b10.value, rel=0.01)
        assert 0 <= row["doubt_share"] < 0.05


def test_paces_least_sure_come_first(demo: Workshop) -> None:
    told = pace_answer(demo)
    assert told.frame["pull"].is_sorted(descending=True)
    assert told.people.height == told.frame.height


def test_without_a_part_that_wears_by_distance_there_is_no_doubt_to_tell(tmp_path: Path) -> None:
    jobs = "date | vehicle | text\n2013-01-01 | V1 | oil service\n2015-01-01 | V1 | oil service"
    small = open_workshop(workshop_folder(tmp_path, jobs=jobs), confidence=0.90, seed=1)
    with pytest.raises(EstimateError, match="scale = 'distance'"):
        distance_doubt_answer(small)


def test_one_workshop_says_that_its_rate_on_the_road_is_a_lower_bound(
    demo: Workshop, road: pl.DataFrame
) -> None:
    made = population_answer(demo, road)
    for row in made.frame.to_dicts():
        assert row["road_value"] == pytest.approx(1000 * row["failures"] / row["on_the_road"])
        assert row["book_value"] == pytest.approx(1000 * row["watched_failures"] / row["watched"])
        assert row["road_upper"] < row["book_lower"]
        assert row["watched_share"] == pytest.approx(0.015, abs=0.005)
    assert "lower bound" in made.notes[0]


def test_groups_add_up_to_the_whole(demo: Workshop, road: pl.DataFrame) -> None:
    whole = population_answer(demo, road).frame.filter(component="water pump")
    for by in ("calendar year", "age", "model year"):
        parts = population_rate_answer(demo, road, "water pump", by=by).frame
        assert parts["road_failures"].sum() == whole["failures"].item()
        assert parts["book_car_years"].sum() == pytest.approx(whole["watched"].item())


def test_the_populations_count_and_the_curves_are_joined_failure_by_failure(
    demo: Workshop, road: pl.DataFrame
) -> None:
    made = reconciliation_answer(demo, road).frame
    steps = made.select(
        pl.col("told")
        - pl.col("no_fitment")
        + pl.col("only_looked_at")
        - pl.col("of_unknown_age")
        - pl.col("not_at_risk")
        - pl.col("no_life_ended")
        + pl.col("other_ends")
    ).to_series()
    assert np.allclose(steps.to_numpy(), made["in_episodes"].to_numpy())
    failed = demo.episodes.table.filter("failed").group_by("component").agg(pl.col("weight").sum())
    both = made.join(failed, on="component")
    assert np.allclose(both["in_episodes"].to_numpy(), both["weight"].to_numpy())
    told = population_answer(demo, road).frame
    assert (told["failures"] + made["outside_population"] == made["told"]).all()
    assert (made["watched_years"] <= made["book_years"]).all()


def test_a_population_of_other_years_is_refused(demo: Workshop, road: pl.DataFrame) -> None:
    later = road.with_columns(pl.col("calendar_year") + 50)
    with pytest.raises(EstimateError, match="calendar years of the records"):
        population_answer(demo, later)
