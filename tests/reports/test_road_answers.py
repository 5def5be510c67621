"""Failures against the vehicles on the road, where a folder tells of them."""

from pathlib import Path

import polars as pl
import pytest
from drawn import workshop_folder

from wornby.reports.answer import Answers
from wornby.reports.population_answers import road_answers
from wornby.reports.workshop import Workshop

DEMO = Path(__file__).parents[2] / "data_demo"


def test_a_folder_without_vehicles_on_the_road_says_what_it_would_take(
    demo: Workshop, tmp_path: Path
) -> None:
    folder = workshop_folder(tmp_path, jobs="date | vehicle | text\n2015-01-01 | V1 | oil service")
    assert 'table = "population"' in repr(road_answers(demo, folder))


def test_the_demo_sets_its_failures_against_car_years_and_reconciles_them(demo: Workshop) -> None:
    told = road_answers(demo, DEMO)
    assert isinstance(told, Answers)
    rates, steps = (answer.frame for answer in told.answers)
    assert rates["component"].to_list() == steps["component"].to_list()


def test_the_steps_from_the_failures_told_to_the_curves_add_up(demo: Workshop) -> None:
    told = road_answers(demo, DEMO)
    assert isinstance(told, Answers)
    steps = told.answers[1].frame
    lost = ("no_fitment", "only_looked_at", "of_unknown_age", "not_at_risk", "no_life_ended")
    left = steps["told"] - steps.select(pl.sum_horizontal(lost)).to_series() + steps["other_ends"]
    assert left.to_list() == pytest.approx(steps["in_episodes"].to_list())
    failed = demo.episodes.table.filter("failed").group_by("component").agg(pl.col("weight").sum())
    in_curves = dict(failed.iter_rows())
    assert steps["in_episodes"].to_list() == pytest.approx(
        [in_curves[name] for name in steps["component"]]
    )
