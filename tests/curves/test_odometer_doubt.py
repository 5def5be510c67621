"""How much of the doubt about a life on distance is the odometer's."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from wornby.curves.odometer_doubt import DistanceDoubt, combined, distance_doubt
from wornby.curves.parametric import weibull
from wornby.histories.counts import count_episodes
from wornby.histories.distance import odometer_on
from wornby.tables import EPISODES

NEW = date(2008, 1, 1)


def test_estimates_are_combined_by_rubins_rules() -> None:
    """By hand (Rubin 1987, 3.1.2-3.1.6): m = 3, within 1/2, between 1, total 1/2 + 4/3 = 11/6;
    degrees of freedom 2 (1 + (1/2) / (4/3))^2 = 2 (11/8)^2."""
    made = combined(np.array([1.0, 2.0, 3.0]), np.full(3, 0.5))
    assert (made.mean, made.within, made.between) == (2.0, 0.5, 1.0)
    assert made.total == pytest.approx(11 / 6)
    assert made.freedom == pytest.approx(2 * (11 / 8) ** 2)
    assert made.share == pytest.approx((4 / 3) / (11 / 6))


def test_one_completed_set_says_nothing_about_what_was_not_known() -> None:
    with pytest.raises(ValueError, match="two or more"):
        combined(np.array([1.0]), np.array([0.5]))


def test_estimates_that_agree_leave_the_normal_interval() -> None:
    made = combined(np.full(5, 2.0), np.full(5, 0.25))
    assert (made.share, made.freedom) == (0.0, float("inf"))
    assert made.limits(0.95) == pytest.approx((2 - 0.98, 2 + 0.98), abs=1e-4)


N, UNEVEN = 250, 0.5


def drawn_world(*, read_every: int, seed: int) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    """Parts that wear by distance in vehicles driven unevenly: episodes, readings, the truth.

    Vehicles are watched for ten years, in months; the odometer is read every so many months.
    """
    rng = np.random.default_rng(seed)
    pace = 8_000 * np.exp(0.4 * rng.normal(size=N))
    steps = rng.gamma(1 / (12 * UNEVEN**2), UNEVEN**2, size=(N, 120)) * pace[:, None]
    odometer = np.concatenate([np.zeros((N, 1)), steps.cumsum(axis=1)], axis=1)
    life = 70_000 * rng.weibull(2.5, size=N)
    month = np.minimum((odometer < life[:, None]).sum(axis=1), 120)
    days = [NEW + timedelta(days=round(365.25 * m / 12)) for m in range(121)]
    vehicles = [f"V{v:03}" for v in range(N)]
    readings = pl.DataFrame(
        [(vehicles[v], days[m], odometer[v, m]) for v in range(N) for m in range(0, 121, read_every)
         if m <= month[v]],
        schema={"vehicle": pl.String, "date": pl.Date, "odometer_mi": pl.Float64}, orient="row",
    ).sort("date")  # fmt: skip
    ends = pl.DataFrame({"vehicle": vehicles, "date": [days[m] for m in month]})
    told = odometer_on(ends, readings)
    lives = ends.with_columns(
        entered_on=pl.lit(NEW),
        exited_on="date",
        entry_days=0,
        exit_days=(pl.col("date") - NEW).dt.total_days(),
        sound_days=(pl.col("date") - NEW).dt.total_days(),
        entry_mi=0.0,
        exit_mi=told["odometer_mi"],
        sound_mi=told["odometer_mi"],
        failed=pl.Series(odometer.max(axis=1) >= life),
        weight=1.0,
    )
    rest = {n: pl.lit(None, t) for n, t in EPISODES.schema().items() if n not in lives.columns}
    whole = EPISODES.shape(lives.with_columns(**rest))
    gone = pl.Series(odometer[np.arange(N), month])
    truth = whole.with_columns(exit_mi=gone, sound_mi=gone)
    return whole, readings, truth


def doubt(lives: pl.DataFrame, readings: pl.DataFrame) -> DistanceDoubt:
    return distance_doubt(
        lives, readings, unit="miles", share=0.1, what="bush", rule="", n_draws=12, confidence=0.9,
        rng=np.random.default_rng(7),
    )  # fmt: skip


def test_where_every_visit_was_read_the_odometer_adds_no_doubt() -> None:
    lives, readings, _ = drawn_world(read_every=1, seed=1)
    made = doubt(lives, readings)
    assert (made.logs.share, made.not_read) == (0.0, 0.0)
    assert made.uncertain.value == pytest.approx(made.fixed.value)
    assert made.uncertain.lower == pytest.approx(made.fixed.lower, rel=1e-6)


def test_rare_readings_of_unevenly_driven_vehicles_widen_the_interval() -> None:
    lives, readings, truth = drawn_world(read_every=18, seed=2)
    made = doubt(lives, readings)
    known = weibull(count_episodes(truth, unit="miles", what="bush", rule="")).b_life(0.1)
    assert made.not_read > 0.3
    assert 0.005 < made.logs.share < 0.5
    assert made.uncertain.value == pytest.approx(known, rel=0.08)
    assert made.uncertain.lower is not None
    assert made.uncertain.upper is not None
    width = np.log(made.uncertain.upper / made.uncertain.lower)
    assert width > 2 * 1.6449 * np.sqrt(made.logs.within)


def test_the_same_draws_give_the_same_answer() -> None:
    lives, readings, _ = drawn_world(read_every=18, seed=3)
    assert doubt(lives, readings).uncertain == doubt(lives, readings).uncertain
