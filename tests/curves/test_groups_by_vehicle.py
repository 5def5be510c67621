"""Two groups by vehicle: against R, the log-rank test by part, and worlds without a difference."""

import numpy as np
import polars as pl
import pytest
from scipy.stats import chi2

from wornby.curves.groups_by_vehicle import log_rank_by_vehicle
from wornby.errors import EstimateError


def lives(n: int, seed: int, *, factor: float) -> pl.DataFrame:
    """Two parts a vehicle, of one kind and wear; ages in quarters, so that some are tied."""
    rng = np.random.default_rng(seed)
    cheap = (rng.random(n // 2) < 0.4).repeat(2)
    wear = rng.gamma(1, 1, n // 2).repeat(2)
    life = 8 * np.where(cheap, factor, 1.0) * rng.weibull(2, n) / wear**0.5
    stop, entry = rng.uniform(3, 9, n), rng.uniform(0, 2, n)
    entry, end = (np.round(4 * ages) / 4 for ages in (entry, np.minimum(life, stop)))
    return pl.DataFrame(
        {
            "vehicle": np.arange(n) // 2,
            "cheap": cheap,
            "entry": entry,
            "lower": end,
            "upper": np.where(life > stop, np.inf, end),
            "count": 1.0,
        }
    ).filter(pl.col("lower") > pl.col("entry"))


def test_the_design_effect_and_the_statistic_are_those_of_r() -> None:
    """Computed by R only, survival 3.5.3: the robust scores of coxph (Efron's ties) with a cluster
    for each part and each vehicle, and the score of coxph with exact ties, which is log-rank's."""
    by_part, by_vehicle, plain = 0.6152180465, 0.4712616961, 0.6481876118
    found = log_rank_by_vehicle(lives(60, 3, factor=0.6), "cheap", unit="years")
    assert found.design_effect == pytest.approx(by_part / by_vehicle, rel=1e-8)
    assert found.statistic == pytest.approx(plain * by_vehicle / by_part, rel=1e-8)


def test_with_one_part_a_vehicle_nothing_is_held_back() -> None:
    frame = lives(60, 3, factor=0.6).with_columns(vehicle=pl.int_range(pl.len()))
    found = log_rank_by_vehicle(frame, "cheap", unit="years")
    assert found.design_effect == pytest.approx(1, abs=1e-12)
    assert found.statistic == pytest.approx(0.6481876118, rel=1e-8)


def test_parts_that_fail_together_do_not_pass_for_more_than_they_are() -> None:
    """Without a difference 5 % of 300 worlds show one; by part it is more."""
    found = [
        log_rank_by_vehicle(lives(60, seed, factor=1.0), "cheap", unit="years")
        for seed in range(300)
    ]
    by_vehicle = np.mean([one.p_value < 0.05 for one in found])
    by_part = np.mean([chi2.sf(one.statistic * one.design_effect, 1) < 0.05 for one in found])
    assert by_vehicle < 0.07 < by_part


def test_a_group_without_a_failure_can_be_tested() -> None:
    frame = lives(160, 2, factor=0.3).with_columns(
        upper=pl.when("cheap").then("upper").otherwise(float("inf"))
    )
    found = log_rank_by_vehicle(frame, "cheap", unit="years")
    assert found.excess > 0
    assert found.p_value < 0.01


def test_groups_that_never_meet_are_refused() -> None:
    frame = lives(40, 4, factor=1.0).with_columns(
        pl.col("entry", "lower", "upper") + pl.when("cheap").then(20.0).otherwise(0.0)
    )
    with pytest.raises(EstimateError, match="never at risk at the same age"):
        log_rank_by_vehicle(frame, "cheap", unit="years")
    with pytest.raises(EstimateError, match="nothing varies"):
        log_rank_by_vehicle(frame.filter("cheap"), "cheap", unit="years")
