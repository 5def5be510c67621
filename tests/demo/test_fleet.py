"""Lives are drawn as the parameters say: checked against scipy's distributions."""

import numpy as np
import pytest
from scipy import stats

from wornby.demo import WorldParameters
from wornby.demo.fleet import GENUINE, ends, new_fleet, original_lives, renewed_lives
from wornby.demo.places import merrow_world

WORLD = merrow_world(WorldParameters())


@pytest.mark.parametrize("place", range(len(WORLD.places.names)))
def test_original_lives_are_weibull_in_every_place(place: int) -> None:
    lives = original_lives(4_000, WORLD.places, rng=np.random.default_rng(place))[:, place]
    truth = WORLD.parameters.lives[WORLD.places.names[place]]
    fit = stats.kstest(lives, stats.weibull_min(truth.shape, scale=truth.scale_value).cdf)
    assert fit.pvalue > 1e-4


def test_left_and_right_are_tied_by_a_gaussian_copula() -> None:
    """Kendall's tau of a Gaussian copula is 2/pi arcsin(rho); Kruskal (1958), from memory."""
    lives = original_lives(4_000, WORLD.places, rng=np.random.default_rng(1))
    for name, rho in (("coolant transfer pipe", 0.6), ("anti-roll bar bush", 0.4)):
        left = WORLD.places.of(name)
        tau = stats.kendalltau(lives[:, left], lives[:, left + 1]).statistic
        assert tau == pytest.approx(2 / np.pi * np.arcsin(rho), abs=0.04)


def test_places_of_different_components_are_not_tied() -> None:
    lives = original_lives(4_000, WORLD.places, rng=np.random.default_rng(2))
    tau = stats.kendalltau(lives[:, 0], lives[:, 1]).statistic
    assert abs(tau) < 0.04


@pytest.mark.parametrize(
    ("grade", "shape", "scale"), [(0, 2.8, 14.0), (1, 2.8, 12.6), (2, 1.2, 5.6)]
)
def test_a_renewed_water_pump_lasts_as_its_grade_does(
    grade: int, shape: float, scale: float
) -> None:
    place = np.full(4_000, WORLD.places.of("water pump"))
    lives = renewed_lives(
        place, np.full(4_000, grade), world=WORLD, rng=np.random.default_rng(grade)
    )
    fit = stats.kstest(lives, stats.weibull_min(shape, scale=scale).cdf)
    assert fit.pvalue > 1e-4


def test_wear_shows_for_a_year_on_average_before_a_brake_pipe_fails() -> None:
    place = np.full(20_000, WORLD.places.of("brake pipe above the axle"))
    zero = np.zeros(place.size)
    degrades, fails = ends(
        zero,
        zero + 15.0,
        place,
        rate=zero + 8_000,
        places=WORLD.places,
        rng=np.random.default_rng(3),
    )
    assert ((fails - degrades) / 365.25).mean() == pytest.approx(1.0, abs=0.03)


def test_a_part_worn_by_distance_fails_when_its_van_has_driven_so_far() -> None:
    fleet = new_fleet(500, world=WORLD, rng=np.random.default_rng(4))
    belt = WORLD.places.of("timing belt")
    years = (fleet.fails[:, belt] - fleet.registered) / 365.25
    np.testing.assert_allclose(years * fleet.miles_per_year, fleet.life[:, belt])


def test_vans_drive_a_lognormal_distance_a_year() -> None:
    fleet = new_fleet(4_000, world=WORLD, rng=np.random.default_rng(5))
    fit = stats.kstest(fleet.miles_per_year, stats.lognorm(0.45, scale=8_000).cdf)
    assert fit.pvalue > 1e-4


def test_an_original_part_counts_as_genuine() -> None:
    fleet = new_fleet(10, world=WORLD, rng=np.random.default_rng(6))
    assert list(WORLD.parameters.grades)[GENUINE] == "genuine"
    assert (fleet.grade == GENUINE).all()
