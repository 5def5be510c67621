"""Parts that may have been renewed before anybody looked: simulated with a known truth."""

import numpy as np
import pytest

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.unknown_ages import given_working, with_ages

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


def test_parts_that_still_work_speak_against_curves_by_which_they_would_not() -> None:
    """By hand: of two curves with survival 0.9 and 0.1, nine draws in ten are of the first."""
    two = WeibullDraws(np.ones(2), -5 / np.log(np.array([0.9, 0.1])), "years")
    many = WeibullDraws(np.tile(two.shape, 5000), np.tile(two.scale, 5000), "years")
    told = given_working(many, np.array([5.0]), np.random.default_rng(2))
    assert np.mean(told.scale == two.scale[0]) == pytest.approx(0.9, abs=0.01)
