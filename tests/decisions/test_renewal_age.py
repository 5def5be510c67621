import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import ArrayLike, NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.least_cost_age import FAILURE_NOT_DEARER, NO_AGE_PAYS
from wornby.decisions.long_run import best_weibull_ages, mean_service, weibull_cost_rate
from wornby.decisions.renewal_age import age_replacement
from wornby.errors import EstimateError


class Weibull:
    def __init__(self, shape: float, scale: float) -> None:
        self.shape, self.scale = shape, scale

    def survival(self, age: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(np.exp(-((np.asarray(age) / self.scale) ** self.shape)))


class Levelling:
    def survival(self, age: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(0.2 + 0.8 * np.exp(-np.asarray(age, dtype=np.float64)))


class WornSteps:
    """Half of the parts fail at exactly 4 years, the others at 8."""

    def survival(self, age: ArrayLike) -> NDArray[np.float64]:
        at = np.asarray(age, dtype=np.float64)
        return np.where(at < 4, 1.0, np.where(at < 8, 0.5, 0.0))


def posterior(shape: float, scale: float, *, n: int = 2000) -> WeibullDraws:
    rng = np.random.default_rng(7)
    return WeibullDraws(
        shape=shape * np.exp(0.15 * rng.standard_normal(n)),
        scale=scale * np.exp(0.08 * rng.standard_normal(n)),
        unit="years",
    )


def one(shape: float, scale: float) -> WeibullDraws:
    return WeibullDraws(np.array([shape]), np.array([scale]), unit="years")


@given(
    shape=st.floats(1.3, 6),
    scale=st.floats(0.5, 40),
    planned=st.floats(10, 1000),
    ratio=st.floats(1.5, 30),
    factor=st.floats(0.1, 50),
)
def test_dearer_money_leaves_the_age_and_scales_the_rate(
    shape: float, scale: float, planned: float, ratio: float, factor: float
) -> None:
    curve = Weibull(shape, scale)
    before = age_replacement(curve, planned_cost=planned, failure_cost=planned * ratio).advice
    after = age_replacement(
        curve, planned_cost=factor * planned, failure_cost=factor * planned * ratio
    ).advice
    assert after.age_years == pytest.approx(before.age_years, rel=1e-4)
    assert after.cost_rate == pytest.approx(factor * before.cost_rate, rel=1e-9)


@given(shape=st.floats(1.2, 6), scale=st.floats(0.5, 40), ratio=st.floats(1.5, 30))
def test_any_curve_and_the_closed_form_for_the_weibull_agree(
    shape: float, scale: float, ratio: float
) -> None:
    by_integral = age_replacement(Weibull(shape, scale), planned_cost=1, failure_cost=ratio).advice
    by_root = best_weibull_ages(one(shape, scale), cost_ratio=ratio)[0]
    if math.isfinite(by_integral.age_years):
        rate = weibull_cost_rate(one(shape, scale), by_root, planned=1, failure=ratio)[0, 0]
        assert by_integral.cost_rate == pytest.approx(rate, rel=1e-8)
        assert by_integral.age_years == pytest.approx(by_root, rel=1e-3)


def test_lengths_agree_with_a_known_mean_and_with_quadrature() -> None:
    service = mean_service(Weibull(0.8, 3.0))
    assert service.mean_life == pytest.approx(3 * math.gamma(1 + 1 / 0.8), rel=1e-8)
    assert mean_service(Weibull(1.0, 1.0)).length(0.7)[0] == pytest.approx(-math.expm1(-0.7))


def test_within_the_flat_region_the_rate_is_within_its_share_and_outside_it_is_not() -> None:
    curve = Weibull(2.5, 10)
    advice = age_replacement(curve, planned_cost=300, failure_cost=900).advice
    service = mean_service(curve)
    ends = np.array([advice.flat_from_years, advice.flat_until_years])
    rates = service.cost_rate(ends, planned=300, failure=900)
    assert advice.flat_from_years < advice.age_years < advice.flat_until_years
    assert rates == pytest.approx(1.05 * advice.cost_rate, rel=1e-6)


def test_a_worthless_optimum_shows_its_saving() -> None:
    # shape 1.5, cost ratio 2: 2.17 scale, saving 0.16 %, computed with R beside the check values
    advice = age_replacement(Weibull(1.5, 1), planned_cost=1, failure_cost=2).advice
    assert advice.age_years == pytest.approx(2.17, abs=0.01)
    assert advice.saving == pytest.approx(0.0016, abs=0.0001)
    assert advice.flat_until_years == math.inf


def test_run_to_failure_says_why() -> None:
    falling = age_replacement(Weibull(0.8, 10), planned_cost=100, failure_cost=1000).advice
    cheap = age_replacement(Weibull(3, 10), planned_cost=100, failure_cost=90).advice
    assert (falling.age_years, falling.reason, falling.saving) == (math.inf, NO_AGE_PAYS, 0)
    assert (cheap.age_years, cheap.reason, cheap.saving) == (math.inf, FAILURE_NOT_DEARER, 0)


def test_a_step_curve_is_renewed_just_before_its_step() -> None:
    # by hand: renewing at 4 costs 1/4 a year; running to failure 5/6
    advice = age_replacement(WornSteps(), planned_cost=1, failure_cost=5).advice
    assert advice.age_years == pytest.approx(4, rel=0.01)
    assert advice.cost_rate == pytest.approx(0.25, rel=0.01)
    assert advice.run_to_failure_rate == pytest.approx(5 / 6, rel=0.01)


@given(scale=st.floats(0.5, 40), planned=st.floats(10, 1000), ratio=st.floats(0.5, 30))
def test_exponential_life_is_never_renewed_early(
    scale: float, planned: float, ratio: float
) -> None:
    told = age_replacement(one(1.0, scale), planned_cost=planned, failure_cost=ratio * planned)
    assert told.advice.age_years == math.inf
    assert told.advice.cost_rate == pytest.approx(ratio * planned / scale)
    assert told.probability_worth(0.01) == 0


def test_a_curve_that_levels_off_has_no_long_run() -> None:
    with pytest.raises(EstimateError, match=r"levels off at 0\.2"):
        age_replacement(Levelling(), planned_cost=1, failure_cost=2)


def test_draws_without_spread_give_the_textbook_answer() -> None:
    certain = age_replacement(one(2.5, 1000.0), planned_cost=1, failure_cost=5)
    assert certain.advice.age_years == pytest.approx(493.046958, rel=1e-5)
    assert certain.age_lower == pytest.approx(493.046958, rel=1e-6)
    assert certain.age_upper == certain.age_lower
    assert certain.probability_saves == 1.0


def test_the_advice_under_draws_is_the_least_mean_rate_by_brute_force() -> None:
    draws = posterior(2.2, 9.0)
    answer = age_replacement(draws, planned_cost=400, failure_cost=900)
    ages = np.linspace(3, 15, 2401)
    brute = weibull_cost_rate(draws, ages, planned=400, failure=900).mean(axis=0)
    assert answer.advice.cost_rate <= brute.min() * (1 + 1e-9)
    assert answer.advice.age_years == pytest.approx(ages[brute.argmin()], abs=0.01)
    assert answer.age_lower < answer.advice.age_years < answer.age_upper
    assert answer.saving_lower < answer.advice.saving < answer.saving_upper


def test_doubtful_wear_gives_a_doubtful_saving() -> None:
    answer = age_replacement(posterior(1.25, 9.0), planned_cost=400, failure_cost=2400)
    assert answer.probability_saves is not None
    assert 0.5 < answer.probability_saves < 0.98
    assert answer.age_upper == math.inf


class Rotated:
    """Draws with the axes the wrong way round."""

    def survival(self, age: ArrayLike) -> NDArray[np.float64]:
        return posterior(2.2, 9.0, n=7).survival(age).T


def test_survival_with_the_wrong_axes_is_refused() -> None:
    with pytest.raises(ValueError, match="wanted a row a draw and a column an age"):
        age_replacement(Rotated(), planned_cost=1, failure_cost=2)


def test_costs_and_draws_are_checked() -> None:
    with pytest.raises(ValueError, match="planned_cost is -1"):
        age_replacement(Weibull(2, 1), planned_cost=-1, failure_cost=2)
    with pytest.raises(ValueError, match="wanted both above 0"):
        age_replacement(Weibull(2, 1), planned_cost=0, failure_cost=2)
    with pytest.raises(ValueError, match="run on miles, wanted years"):
        age_replacement(
            WeibullDraws(np.ones(1), np.ones(1), "miles"), planned_cost=1, failure_cost=2
        )
