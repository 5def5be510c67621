"""Vehicles drawn again: against fitting one resample at a time, and against what theory says."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.bootstrap import weibull_bootstrap
from wornby.curves.nonparametric import kaplan_meier
from wornby.curves.parametric import weibull
from wornby.curves.profile import b_life, chance_within
from wornby.curves.robust_bands import kaplan_meier_by_vehicle, nelson_aalen_by_vehicle
from wornby.curves.vehicles import VehicleCounts, counts_by_vehicle, episodes_by_vehicle
from wornby.errors import EstimateError
from wornby.histories.counts import Counts


def fleet(n: int, parts: int, seed: int, *, alike: float = 0.0) -> VehicleCounts:
    """`parts` lives a vehicle; `alike` is the spread of a wear factor its parts share."""
    rng = np.random.default_rng(seed)
    vehicle = np.repeat(np.arange(n), parts)
    factor = np.exp(rng.normal(0, alike, n))[vehicle]
    entry = np.round(rng.uniform(0, 5, n * parts), 2)
    life = np.round(10 * factor * rng.weibull(2.5, n * parts), 2)
    frame = pl.DataFrame({"vehicle": vehicle, "entry": entry, "life": life, "count": 1.0})
    seen = frame.filter(pl.col("life") > pl.col("entry")).with_columns(
        lower=pl.min_horizontal("life", pl.col("entry") + 7)
    )
    upper = pl.when(pl.col("life") > pl.col("lower")).then(float("inf")).otherwise("lower")
    return counts_by_vehicle(
        seen.with_columns(upper=upper), unit="years", what="bush", rule="as watched"
    )


def test_all_at_once_equals_one_at_a_time() -> None:
    by = fleet(60, 2, 1)
    found = weibull_bootstrap(by, rng=np.random.default_rng(2), n=12)
    weights = by.resampled(np.random.default_rng(2), 12)
    for i, weight in enumerate(weights):
        table = by.counts.table.with_columns(count=weight).filter(pl.col("count") > 0)
        one = weibull(Counts(table, unit="years", what="bush", rule="as watched"))
        assert found.draws.shape[i] == pytest.approx(one.shape, rel=1e-6)
        assert found.draws.scale[i] == pytest.approx(one.scale, rel=1e-6)


def test_independent_parts_give_the_likelihood_interval() -> None:
    by = fleet(1500, 1, 3)
    found = weibull_bootstrap(by, rng=np.random.default_rng(4), n=1000)
    ours, theirs = found.b_life(0.1, confidence=0.9), b_life(found.curve, 0.1, confidence=0.9)
    assert ours.lower == pytest.approx(theirs.lower, rel=0.02)
    assert ours.upper == pytest.approx(theirs.upper, rel=0.02)
    ours = found.chance_within(age=6.0, horizon=1.0, confidence=0.9)
    theirs = chance_within(found.curve, age=6.0, horizon=1.0, confidence=0.9)
    assert ours.lower == pytest.approx(theirs.lower, rel=0.04)
    assert ours.upper == pytest.approx(theirs.upper, rel=0.04)


def test_parts_that_fail_alike_widen_every_interval() -> None:
    by = fleet(150, 4, 5, alike=0.6)
    found = weibull_bootstrap(by, rng=np.random.default_rng(6), n=400)
    naive = np.sqrt(found.curve.covariance[0, 0])
    assert np.log(found.draws.scale).std() > 1.3 * naive
    plain = kaplan_meier(by.counts, confidence=0.9).table["std_err"]
    robust = kaplan_meier_by_vehicle(by, confidence=0.9).table["std_err"]
    middle = plain.len() // 2
    assert robust[middle] > 1.2 * plain[middle]


def test_robust_errors_are_those_of_resampled_vehicles() -> None:
    by = fleet(200, 3, 7, alike=0.5)
    ages = np.array([4.0, 7.0, 9.0])
    curves = []
    for weight in by.resampled(np.random.default_rng(8), 300):
        table = by.counts.table.with_columns(count=weight).filter(pl.col("count") > 0)
        again = kaplan_meier(Counts(table, "years", "bush", "as watched"), confidence=0.9)
        curves.append(again.survival(ages))
    found = kaplan_meier_by_vehicle(by, confidence=0.9).table
    last = np.searchsorted(found["age"].to_numpy(), ages, side="right") - 1
    assert found["std_err"].to_numpy()[last] == pytest.approx(np.std(curves, axis=0), rel=0.15)
    hazard = nelson_aalen_by_vehicle(by, confidence=0.9).table
    relative = (found["std_err"] / found["survival"]).to_numpy()[last]
    assert hazard["std_err"].to_numpy()[last] == pytest.approx(relative, rel=0.1)


def test_too_few_failures_are_sent_to_the_posterior() -> None:
    frame = pl.DataFrame(
        {
            "vehicle": [1, 2, 3, 4, 5, 6],
            "entry": [0.0] * 6,
            "lower": [3.0, 5.0, 9.0, 9.0, 9.0, 9.0],
            "upper": [3.0, 5.0] + [np.inf] * 4,
            "count": [1.0] * 6,
        }
    )
    by = counts_by_vehicle(frame, unit="years", what="bush", rule="as watched")
    with pytest.raises(EstimateError, match="failures in 2 vehicles, wanted 5"):
        weibull_bootstrap(by, rng=np.random.default_rng(1), n=200)
    with pytest.raises(EstimateError, match="no lives"):
        counts_by_vehicle(frame.clear(), unit="years", what="bush", rule="as watched")


def test_episodes_become_lives_by_vehicle() -> None:
    episodes = pl.DataFrame(
        {
            "vehicle": ["a", "a", "b"],
            "entry_days": [0, 0, 365],
            "exit_days": [731, 731, 365],
            "entry_mi": [0.0, None, 5.0],
            "exit_mi": [900.0, 20.0, 50.0],
            "failed": [True, True, False],
            "weight": [1.0, 1.0, 1.0],
        }
    )
    by_age = episodes_by_vehicle(episodes, unit="years", what="bush", rule="as watched")
    assert (by_age.n_vehicles, by_age.counts.n_lives) == (1, 2)
    by_miles = episodes_by_vehicle(episodes, unit="miles", what="bush", rule="as watched")
    assert (by_miles.n_vehicles, by_miles.counts.unit) == (2, "miles")
    with pytest.raises(ValueError, match="no unit"):
        episodes_by_vehicle(episodes, unit="hours", what="bush", rule="as watched")


def test_refuses_no_resamples_and_an_age_before_new() -> None:
    by = fleet(60, 2, 1)
    with pytest.raises(ValueError, match="0 resamples: wanted at least one"):
        weibull_bootstrap(by, rng=np.random.default_rng(1), n=0)
    found = weibull_bootstrap(by, rng=np.random.default_rng(1), n=20)
    with pytest.raises(ValueError, match="wanted age from 0"):
        found.chance_within(age=-1.0, horizon=1.0, confidence=0.9)
