"""Failures against the vehicles on the road, where a folder tells of them."""

from pathlib import Path

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
