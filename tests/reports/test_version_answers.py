"""Versions, on a story counted by hand and on the demo, whose versions are made alike."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.curves.versions import VersionLife, version_lives
from wornby.errors import EstimateError
from wornby.reports.version_answers import version_answer
from wornby.reports.workshop import Workshop


def lives(short: list[float], long: list[float]) -> pl.DataFrame:
    """Parts of a vehicle each, all failed at the ages given."""
    versions = ["short"] * len(short) + ["long"] * len(long)
    frame = pl.DataFrame({"version": versions, "lower": short + long})
    return frame.with_row_index("vehicle").with_columns(
        entry=pl.lit(0.0), upper="lower", count=pl.lit(1.0)
    )


def told(frame: pl.DataFrame) -> dict[str, VersionLife]:
    found = version_lives(frame, "pump", unit="years", confidence=0.9, prior=CAR_COMPONENT)
    return {life.version: life for life in found}


def test_failures_to_expect_are_shared_out_by_those_at_risk() -> None:
    """By hand: at 2 half of four are short, at 4 a third of three, then none."""
    found = told(lives([2.0, 4.0], [6.0, 8.0]))
    assert found["short"].expected == pytest.approx(2 / 4 + 1 / 3)
    assert found["long"].expected == pytest.approx(4 - 2 / 4 - 1 / 3)


def test_a_version_is_drawn_from_its_own_life_towards_the_other() -> None:
    rng = np.random.default_rng(1)
    found = told(lives(list(7 * rng.weibull(3, 40)), list(9 * rng.weibull(3, 40))))
    short, long = found["short"], found["long"]
    assert short.own is not None
    assert long.own is not None
    assert short.pooled.value is not None
    assert long.pooled.value is not None
    assert short.own < short.pooled.value < long.pooled.value < long.own
    assert short.pull is not None
    assert 0 < short.pull < 1


@pytest.fixture(scope="module")
def versions(demo: Workshop) -> pl.DataFrame:
    """The demo's versions."""
    return version_answer(demo).frame


def test_the_versions_of_the_demo_are_not_told_apart(
    demo: Workshop, versions: pl.DataFrame
) -> None:
    """The demo's truth: a part lives alike in every version."""
    assert versions.filter(pl.col("p_value_held") < 0.05)["component"].n_unique() <= 1
    assert versions["component"].n_unique() == len(demo.catalogue.components)


def test_few_failures_are_drawn_further_than_many(versions: pl.DataFrame) -> None:
    frame = versions.with_columns(few=pl.col("failures") < 10)
    mean = dict(frame.group_by("few").agg(pl.col("pull").mean()).iter_rows())
    assert mean[True] > mean[False]


def test_one_version_is_no_comparison(demo: Workshop) -> None:
    frame = lives([2.0, 3.0], [])
    (only,) = told(frame).values()
    assert (only.reason, only.failures) == ("one version only", 2)
    short = demo.episodes.table.filter(pl.col("version") == "short")
    with pytest.raises(EstimateError, match="fewer than two versions"):
        version_answer(replace(demo, episodes=replace(demo.episodes, table=short)))
