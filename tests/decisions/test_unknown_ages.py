"""Parts that may have been renewed before anybody looked: simulated with a known truth."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.unknown_ages import untold_odds, with_ages

LIFE = WeibullDraws(np.array([3.0]), np.array([12.0]), "years")


def test_share_of_originals_and_mean_age_are_those_of_a_simulated_fleet() -> None:
    """Vehicles live elsewhere until their first visit; what fails there is renewed there.

    Seen from the first visit on, those whose part has not failed since are asked about.
    """
    rng = np.random.default_rng(3)
    n = 60_000
    first = rng.uniform(4, 16, size=n)
    now = first + rng.uniform(0, 6, size=n)
    fitted, original = np.zeros(n), np.ones(n, dtype=bool)
    fails = 12 * rng.weibull(3.0, size=n)
    gone = fails < first
    fitted[gone], original[gone] = fails[gone], False
    again = fitted + 12 * rng.weibull(3.0, size=n)
    ends = np.where(original, fails, again)
    working = ends > now
    told, age = with_ages(
        LIFE,
        vehicle_now=now[working],
        vehicle_at_first=first[working],
        surely_renewed=np.zeros(working.sum(), dtype=bool),
        rng=rng,
    )
    assert told.mean() == pytest.approx(original[working].mean(), abs=0.02)
    assert age.mean() == pytest.approx((now - fitted)[working].mean(), abs=0.25)


def test_what_was_seen_renewed_is_never_the_original() -> None:
    told, age = with_ages(
        LIFE,
        vehicle_now=np.full(50, 9.0),
        vehicle_at_first=np.full(50, 6.0),
        surely_renewed=np.ones(50, dtype=bool),
        rng=np.random.default_rng(1),
    )
    assert not told.any()
    assert ((age >= 3.0) & (age <= 9.0)).all()


def test_a_new_vehicle_has_its_original_part() -> None:
    told, age = with_ages(
        LIFE,
        vehicle_now=np.array([2.0]),
        vehicle_at_first=np.array([0.0]),
        surely_renewed=np.array([False]),
        rng=np.random.default_rng(1),
    )
    assert told.tolist() == [True]
    assert age.tolist() == [2.0]


def test_a_shorter_lived_successor_was_fitted_not_long_ago() -> None:
    short = WeibullDraws(np.array([6.0]), np.array([4.0]), "years")
    told, age = with_ages(
        LIFE,
        renewed_life=short,
        vehicle_now=np.full(400, 16.0),
        vehicle_at_first=np.full(400, 15.0),
        surely_renewed=np.ones(400, dtype=bool),
        rng=np.random.default_rng(1),
    )
    assert not told.any()
    assert np.quantile(age, 0.95) < 5.0


def looked_at(n: int, *, told: float, found: float) -> pl.DataFrame:
    """First fitments of n places; looks tell originals with one chance, renewed ones another."""
    rng = np.random.default_rng(8)
    first = rng.uniform(3, 18, size=n)
    renewed = 12 * rng.weibull(3.0, size=n) < first
    said = rng.random(n) < np.where(renewed, found, told)
    new = date(2000, 1, 1)
    came = [new + timedelta(days=round(365.25 * years)) for years in first]
    return pl.DataFrame({"first_visit": came, "renewed": renewed, "said": said}).with_columns(
        component=pl.lit("pump"),
        origin=pl.lit("original"),
        first_registered=pl.lit(new),
        known_original_on=pl.when(pl.col("said") & ~pl.col("renewed")).then("first_visit"),
        found_renewed_on=pl.when(pl.col("said") & pl.col("renewed")).then("first_visit"),
    )


def test_what_looks_leave_untold_is_told_by_what_they_tell() -> None:
    """By hand: 0.2 of originals and 0.6 of renewed ones are left untold, three times as many."""
    assert untold_odds(looked_at(20_000, told=0.8, found=0.4), {"pump": LIFE}) == pytest.approx(
        3.0, abs=0.2
    )
    assert untold_odds(looked_at(20_000, told=0.6, found=0.6), {"pump": LIFE}) == pytest.approx(
        1.0, abs=0.07
    )


def test_without_looks_nothing_is_made_of_what_they_leave_untold() -> None:
    nothing = looked_at(300, told=0.0, found=0.0)
    assert untold_odds(nothing, {"pump": LIFE}) == pytest.approx(1.0, abs=0.02)
    assert untold_odds(nothing.clear(), {"pump": LIFE}) == pytest.approx(1.0)
    assert untold_odds(nothing, {}) == pytest.approx(1.0)


def test_the_untold_are_originals_as_often_as_in_the_simulated_fleet() -> None:
    fleet = looked_at(20_000, told=0.8, found=0.4)
    untold = fleet.filter(~pl.col("said"))
    days = (pl.col("first_visit") - pl.col("first_registered")).dt.total_days()
    years = untold.select(days / 365.25).to_series()
    told, _ = with_ages(
        LIFE,
        vehicle_now=years.to_numpy(),
        vehicle_at_first=years.to_numpy(),
        surely_renewed=np.zeros(untold.height, dtype=bool),
        rng=np.random.default_rng(9),
        # what was put in has lasted to the first visit anyway
        renewed_life=WeibullDraws(np.array([1.0]), np.array([1e6]), "years"),
        untold_odds=untold_odds(fleet, {"pump": LIFE}),
    )
    assert told.mean() == pytest.approx(float((~untold["renewed"]).to_numpy().mean()), abs=0.025)
