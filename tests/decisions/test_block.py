import math

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.block import block_replacement, renewal_function
from wornby.errors import EstimateError


class Weibull:
    def __init__(self, shape: float, scale: float) -> None:
        self.shape, self.scale = shape, scale

    def survival(self, age: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(np.exp(-((np.asarray(age) / self.scale) ** self.shape)))


class GammaTwo:
    def survival(self, age: ArrayLike) -> NDArray[np.float64]:
        at = np.asarray(age, dtype=np.float64)
        return np.asarray((1 + at) * np.exp(-at))


def test_the_renewal_function_of_a_gamma_life_has_a_closed_form() -> None:
    # Cox (1962), Renewal Theory: shape 2, rate 1: t/2 - (1 - exp(-2 t))/4
    t = np.array([0.0, 0.5, 1.0, 3.0, 8.0])
    expected = t / 2 - (1 - np.exp(-2 * t)) / 4
    assert renewal_function(GammaTwo(), t) == pytest.approx(expected, abs=1e-8)


def test_failures_counted_in_a_simulation_agree() -> None:
    rng = np.random.default_rng(11)
    failed_at = np.cumsum(4 * rng.weibull(2.5, size=(40_000, 12)), axis=1)
    counted = (failed_at <= 6).sum(axis=1)
    expected = renewal_function(Weibull(2.5, 4), 6.0)[0]
    assert abs(counted.mean() - expected) < 3 * counted.std() / math.sqrt(counted.size)


def test_high_shapes_keep_their_digits() -> None:
    # 1.7466 at shape 4, t = 2 scale: computed with R beside the check values
    assert renewal_function(Weibull(4, 1), 2.0)[0] == pytest.approx(1.7466, abs=5e-5)


def test_a_part_that_does_not_wear_is_not_renewed_by_the_calendar() -> None:
    advice = block_replacement(Weibull(1, 3), planned_cost=1, failure_cost=10).advice
    assert advice.age_years == math.inf
    assert advice.saving == 0


def test_ages_below_zero_are_refused() -> None:
    with pytest.raises(ValueError, match="wanted from 0 up"):
        renewal_function(Weibull(2, 1), [-1.0, 2.0])


def test_a_life_short_beside_a_step_keeps_its_digits() -> None:
    # shape 1: failures come at one rate, M(t) = t / scale (Cox 1962), steps of two lives and more
    draws = WeibullDraws(np.array([1.0, 1.0, 1.0]), np.array([0.05, 0.1, 50.0]), "years")
    t = np.array([1.0, 10.0, 60.0])
    found = renewal_function(draws, t, steps=300)
    assert found == pytest.approx(t / draws.scale[:, None], rel=5e-3)


def test_lives_too_unlike_for_one_calendar_are_refused() -> None:
    draws = WeibullDraws(np.array([3.0, 3.0]), np.array([0.01, 200.0]), "years")
    with pytest.raises(EstimateError, match="too unlike"):
        block_replacement(draws, planned_cost=1, failure_cost=5, steps=300)
