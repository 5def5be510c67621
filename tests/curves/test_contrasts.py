"""Groups against one another: Holm's own example, and differences that hold their level."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.contrasts import (
    holm,
    mean_life_difference,
    pairwise_log_rank,
    share_failed_difference,
)
from wornby.errors import EstimateError
from wornby.histories.counts import Counts


def grade(rng: np.random.Generator, n: int, scale: float) -> Counts:
    """Renewed parts watched from fitting for up to eight years."""
    life, stop = scale * rng.weibull(2, n), rng.uniform(2, 8, n)
    end = np.minimum(life, stop)
    upper = np.where(life > stop, np.inf, end)
    table = pl.DataFrame({"entry": 0.0 * end, "lower": end, "upper": upper, "count": 1.0})
    return Counts(table, unit="years", what="water pump", rule="as watched")


def test_holm_by_hand() -> None:
    """0.01 x 4, 0.02 x 3, then never less than before: 0.03 x 2, 0.06 again for 0.04 (by hand)."""
    assert holm([0.04, 0.01, 0.03, 0.02]) == pytest.approx([0.06, 0.04, 0.06, 0.06])
    assert holm([0.9, 0.8]) == [1, 1]
    assert holm([]) == []


def test_only_the_poor_grade_stands_out() -> None:
    rng = np.random.default_rng(1)
    groups = {
        "genuine": grade(rng, 150, 6),
        "original": grade(rng, 150, 6),
        "cheap": grade(rng, 150, 3),
    }
    table = pairwise_log_rank(groups)
    found = dict(
        zip(zip(table["first"], table["second"], strict=True), table["adjusted"], strict=True)
    )
    assert found[("genuine", "original")] > 0.05
    assert found[("genuine", "cheap")] < 0.001
    assert found[("original", "cheap")] < 0.001


def test_a_pair_without_failures_is_left_out_with_its_reason() -> None:
    rng = np.random.default_rng(2)
    idle = Counts(
        pl.DataFrame({"entry": [0.0], "lower": [3.0], "upper": [np.inf], "count": [4.0]}),
        unit="years",
        what="idle",
        rule="as watched",
    )
    table = pairwise_log_rank({"a": idle, "b": grade(rng, 30, 4), "c": idle})
    row = table.filter((pl.col("first") == "a") & (pl.col("second") == "c")).row(0, named=True)
    assert row["p_value"] is None
    assert row["reason"].startswith("no failure in a, c")


def test_differences_cover_the_truth_as_often_as_stated() -> None:
    rng, held = np.random.default_rng(3), np.zeros(2)
    ages = np.linspace(0, 5, 2001)
    truth = [np.exp(-((ages / scale) ** 2)) for scale in (6, 4)]
    mean_gap = float(np.trapezoid(truth[0] - truth[1], ages))
    share_gap = float(truth[1][-1] - truth[0][-1])  # failed by 5: less of the first
    for _ in range(300):
        groups = {"a": grade(rng, 80, 6), "b": grade(rng, 80, 4)}
        mean, _ = mean_life_difference(groups, until=5.0, confidence=0.9)
        share, _ = share_failed_difference(groups, age=5.0, confidence=0.9)
        for i, (found, gap) in enumerate(((mean, mean_gap), (share, share_gap))):
            assert found.lower is not None
            assert found.upper is not None
            held[i] += found.lower <= gap <= found.upper
    assert (held > 300 * 0.85).all()
    assert (held < 300 * 0.95).all()


def test_says_which_less_which_and_refuses_an_age_nobody_reached() -> None:
    rng = np.random.default_rng(4)
    groups = {"genuine": grade(rng, 40, 6), "cheap": grade(rng, 40, 3)}
    found, p_value = mean_life_difference(groups, until=5.0, confidence=0.9)
    assert found.note == "genuine less cheap, mean life up to 5 years"
    assert 0 <= p_value < 0.01
    with pytest.raises(EstimateError, match="nobody watched at 30 years"):
        share_failed_difference(groups, age=30.0, confidence=0.9)
    with pytest.raises(ValueError, match="wanted two"):
        mean_life_difference({**groups, "third": groups["cheap"]}, until=5.0, confidence=0.9)
