"""What unread distances add, and which vehicles owe their pace to the fleet."""

import polars as pl
import pytest

from wornby.reports.distance_answers import distance_doubt_answer, pace_answer
from wornby.reports.workshop import Workshop


def test_every_component_that_wears_by_distance_says_what_unread_distances_add(
    demo: Workshop,
) -> None:
    told = distance_doubt_answer(demo).frame
    by_distance = [n for n, c in demo.catalogue.components.items() if c.scale == "distance"]
    assert told["component"].to_list() == by_distance
    fixed, doubtful = (
        told[f"b10_{which}_upper"] / told[f"b10_{which}_lower"] for which in ("fixed", "uncertain")
    )
    assert (doubtful / fixed).to_list() == pytest.approx([1.0] * len(by_distance), abs=0.01)
    assert told["doubt_share"].is_between(0, 1).all()


def test_a_vehicle_never_read_is_taken_to_go_as_the_fleet_does(demo: Workshop) -> None:
    told = pace_answer(demo).frame
    unread = told.filter(pl.col("readings") == 0)
    assert unread["own_pace"].is_null().all()
    assert unread["pull"].to_list() == [1.0] * unread.height
    assert unread["pooled_pace"].n_unique() == 1
    assert told["pull"].is_sorted(descending=True)
