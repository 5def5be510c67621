"""One group against another: drawn worlds with a known factor, and the demo's grades."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.two_groups import Contrast, contrast
from wornby.reports.answer import Answer
from wornby.reports.effect_answers import effect_answer
from wornby.reports.workshop import Workshop


def lives(n: int, seed: int, *, factor: float) -> pl.DataFrame:
    """Cheap parts that last so many times as long as genuine ones, watched for 3 to 9 years."""
    rng = np.random.default_rng(seed)
    cheap = rng.random(n) < 0.5
    life, stop = 8 * np.where(cheap, factor, 1.0) * rng.weibull(2, n), rng.uniform(3, 9, n)
    end = np.minimum(life, stop)
    return pl.DataFrame(
        {
            "vehicle": np.arange(n),
            "grade": np.where(cheap, "cheap", "genuine"),
            "entry": 0.0,
            "lower": end,
            "upper": np.where(life > stop, np.inf, end),
            "count": 1.0,
        }
    )


def compared(frame: pl.DataFrame, until: float = 3.0) -> Contrast:
    return contrast(
        frame, "grade", first="cheap", base="genuine", until=until, unit="years", confidence=0.99
    )


def test_all_ways_of_comparing_hold_the_truth() -> None:
    """Weibull of shape 2: 0.6 times as long is 0.6^-2 times as often at equal age."""
    found = compared(lives(600, 1, factor=0.6))
    failed = -np.expm1(-((3 / np.array([4.8, 8.0])) ** 2))
    for estimate, truth in (
        (found.factor, 0.6),
        (found.ratio, 0.6**-2),
        (found.share_gap, failed[0] - failed[1]),
    ):
        assert estimate.lower is not None
        assert estimate.upper is not None
        assert estimate.lower < truth < estimate.upper
    assert found.sooner


def test_where_none_of_one_failed_the_test_still_tells() -> None:
    frame = lives(60, 2, factor=0.3).with_columns(
        upper=pl.when(pl.col("grade") == "genuine").then(np.inf).otherwise("upper")
    )
    found = compared(frame)
    assert found.sooner
    assert found.p_value is not None
    assert found.p_value < 0.01
    assert found.factor.value is None
    assert found.factor.note == "0 failed of genuine, wanted 3"
    assert found.share_gap.note == "none of genuine failed by then"


def test_an_age_that_nobody_reached_has_no_difference() -> None:
    found = compared(lives(100, 3, factor=0.6), until=30.0)
    assert found.mean_gap.value is None
    assert "nobody watched at 30 years" in found.mean_gap.note
    assert found.p_value is not None


@pytest.fixture(scope="module")
def effects(demo: Workshop) -> Answer:
    """The demo's comparisons."""
    return effect_answer(demo)


def test_cheap_grades_of_the_demo_fail_sooner_and_versions_do_not_differ(effects: Answer) -> None:
    """The demo's truth: aftermarket parts have 0.4 of the scale; versions are alike."""
    told = effects.frame.filter(pl.col("p_value_held") < 0.05)
    grades = told.filter(pl.col("compared_by") == "grade")
    assert grades.height >= 3
    assert set(grades["first"]) == {"aftermarket"}
    assert grades["sooner"].all()
    assert (grades["mean_gap_value"].drop_nulls() < 0).all()
    assert told.filter(pl.col("compared_by") == "version").height <= 1


def test_every_comparison_has_a_verdict_or_a_reason(demo: Workshop, effects: Answer) -> None:
    assert effects.people.height == effects.frame.height
    assert (effects.people["verdict"].str.len_chars() > 0).all()
    assert effects.people["component"].n_unique() == len(demo.catalogue.components)
    untested = effects.frame.filter(pl.col("p_value").is_null())
    assert (untested["note"].str.len_chars() > 0).all()


def test_p_stands_beside_what_it_is_held_to(effects: Answer) -> None:
    tested = effects.frame.drop_nulls("p_value")
    n = tested.height
    least = tested.sort("p_value").row(0, named=True)
    assert least["p_value_held"] == pytest.approx(min(1.0, n * least["p_value"]))
    assert {"p", "p, held to account"} <= set(effects.people.columns)
    assert any(f"all {n} comparisons" in note for note in effects.notes)


def test_an_interval_without_the_verdict_is_called_unadjusted(effects: Answer) -> None:
    marked = 0
    for row, text in zip(
        effects.frame.to_dicts(), effects.people["times as often"].to_list(), strict=True
    ):
        if row["ratio_value"] is None:
            continue
        apart = row["ratio_lower"] > 1 or row["ratio_upper"] < 1
        unsure = row["p_value_held"] is None or row["p_value_held"] >= 0.05
        assert text.endswith(", unadjusted") == (apart and unsure), row
        marked += apart and unsure
    assert marked, "the demo has such a ratio, by chance"


def test_too_few_watched_of_one_is_said() -> None:
    frame = lives(100, 4, factor=0.6)
    cheap = pl.col("grade") == "cheap"
    found = compared(pl.concat([frame.filter(~cheap), frame.filter(cheap).head(2)]))
    assert found.p_value is None
    assert found.reason == "only 2 watched of one of them"
