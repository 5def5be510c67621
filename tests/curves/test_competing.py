"""Competing endings: laws and variances against a bootstrap by vehicle.

Published values are in tests/published/.
"""

import numpy as np
import polars as pl
import pytest

from wornby.curves.competing import cumulative_incidence
from wornby.curves.nonparametric import kaplan_meier
from wornby.errors import EstimateError
from wornby.histories.counts import Counts


def lives(n: int, seed: int) -> pl.DataFrame:
    """Two parts a vehicle, alike in age at failure; each watched from an age of its own."""
    rng = np.random.default_rng(seed)
    vehicle = np.repeat(np.arange(n // 2), 2)
    entry = np.round(rng.uniform(0, 3, n), 2)
    wear = rng.gamma(4.0, 0.25, n // 2)[vehicle]
    end = entry + np.round(0.05 + 4 * wear * rng.weibull(2, n), 2)
    ending = rng.choice(["failed", "renewed", ""], n, p=[0.5, 0.2, 0.3])
    frame = pl.DataFrame({"vehicle": vehicle, "entry": entry, "exit": end, "ending": ending})
    return frame.with_columns(pl.col("ending").replace("", None), count=pl.lit(1.0))


def test_shares_and_survival_add_up_to_one() -> None:
    frame = lives(200, 1)
    found = cumulative_incidence(frame, confidence=0.9)
    upper = pl.when(pl.col("ending").is_null()).then(float("inf")).otherwise("exit")
    table = frame.select("entry", pl.col("exit").alias("lower"), upper.alias("upper"), "count")
    counts = Counts(table, unit="years", what="hose", rule="as watched")
    alive = kaplan_meier(counts, confidence=0.9, early_rule="from the first watched")
    ages = np.linspace(0.5, 9, 20)
    total = found.share("failed", ages) + found.share("renewed", ages) + alive.survival(ages)
    assert total == pytest.approx(np.ones(20))


def test_variance_by_vehicle_is_that_of_resampled_vehicles() -> None:
    frame = lives(400, 2)
    found = cumulative_incidence(frame, confidence=0.9)
    rng = np.random.default_rng(3)
    shares = []
    for _ in range(300):
        drawn = pl.DataFrame({"vehicle": rng.integers(0, 200, 200)}).group_by("vehicle").len()
        again = frame.join(drawn, on="vehicle").with_columns(count=pl.col("len").cast(pl.Float64))
        shares.append(cumulative_incidence(again, confidence=0.9).share("failed", [3.0, 5.0]))
    assert found.std_err("failed", [3.0, 5.0]) == pytest.approx(np.std(shares, axis=0), rel=0.15)


def test_counts_equal_repeated_rows() -> None:
    frame = lives(60, 4).drop("vehicle")
    doubled = cumulative_incidence(pl.concat([frame, frame]), confidence=0.9).table
    counted = cumulative_incidence(frame.with_columns(count=pl.lit(2.0)), confidence=0.9).table
    for column in ("share", "std_err", "at_risk", "ended"):
        assert counted[column].to_numpy() == pytest.approx(doubled[column].to_numpy())


def test_refuses_no_endings_and_a_watch_that_ends_before_it_begins() -> None:
    frame = lives(10, 5)
    with pytest.raises(EstimateError, match="none of 10 parts has come to an end"):
        cumulative_incidence(
            frame.with_columns(ending=pl.lit(None, dtype=pl.String)), confidence=0.9
        )
    with pytest.raises(EstimateError, match="the watch ends before it begins"):
        cumulative_incidence(frame.with_columns(exit=pl.col("entry") / 2), confidence=0.9)
    with pytest.raises(EstimateError, match="an age is missing or not a number"):
        cumulative_incidence(frame.with_columns(exit=pl.lit(np.nan)), confidence=0.9)
    with pytest.raises(EstimateError, match="a count is not positive"):
        cumulative_incidence(frame.with_columns(count=pl.lit(0.0)), confidence=0.9)
    with pytest.raises(EstimateError, match="10 rows name no vehicle"):
        cumulative_incidence(
            frame.with_columns(vehicle=pl.lit(None, dtype=pl.Int64)), confidence=0.9
        )
    with pytest.raises(ValueError, match="wanted one of"):
        cumulative_incidence(frame, confidence=0.9).share("lost", 3.0)


def test_tenths_that_add_up_to_all_end_every_part() -> None:
    """Three tenths at risk, all of which end: no more and no fewer than all."""
    frame = pl.DataFrame(
        {
            "entry": 0.0,
            "exit": [1.0, 2.0, 2.0, 2.0],
            "ending": ["failed", "failed", "renewed", "failed"],
            "count": [0.7, 0.1, 0.1, 0.1],
        }
    )
    found = cumulative_incidence(frame, confidence=0.9)
    assert found.share("failed", 2.0) == pytest.approx(0.9, abs=1e-12)
    assert found.share("renewed", 2.0) == pytest.approx(0.1, abs=1e-12)
