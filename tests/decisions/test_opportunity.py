import math

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray

from wornby.decisions.opportunity import opportunity_replacement
from wornby.decisions.renewal_age import age_replacement


class Weibull:
    def __init__(self, shape: float, scale: float) -> None:
        self.shape, self.scale = shape, scale

    def survival(self, age: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(np.exp(-((np.asarray(age) / self.scale) ** self.shape)))


def simulated_rate(age: float, *, openings_per_year: float, n: int) -> tuple[float, float]:
    """Cost a year of renewing at the first opening after `age`, and its standard error."""
    rng = np.random.default_rng(9)
    life = 12 * rng.weibull(3.0, size=n)
    opening = age + rng.exponential(1 / openings_per_year, size=n)
    cost, length = np.where(life < opening, 700.0, 100.0), np.minimum(life, opening)
    rate = cost.mean() / length.mean()
    return float(rate), float((cost - rate * length).std() / math.sqrt(n) / length.mean())


@pytest.mark.parametrize("openings_per_year", [0.1, 0.5, 3.0])
def test_a_simulation_of_renewals_has_the_advised_cost_rate(openings_per_year: float) -> None:
    advice = opportunity_replacement(
        Weibull(3, 12),
        openings_per_year=openings_per_year,
        renewal_cost=100,
        failure_cost=700,
    ).advice
    rate, error = simulated_rate(advice.age_years, openings_per_year=openings_per_year, n=200_000)
    assert advice.cost_rate == pytest.approx(rate, abs=3 * error)
    for age in (0.7 * advice.age_years, 1.4 * advice.age_years):
        other, error = simulated_rate(age, openings_per_year=openings_per_year, n=200_000)
        assert other > advice.cost_rate - 3 * error


def test_openings_at_any_moment_are_age_replacement() -> None:
    curve = Weibull(2.5, 10)
    always = opportunity_replacement(
        curve, openings_per_year=1e4, renewal_cost=1, failure_cost=5
    ).advice
    planned = age_replacement(curve, planned_cost=1, failure_cost=5).advice
    assert always.age_years == pytest.approx(planned.age_years, rel=1e-3)
    assert always.cost_rate == pytest.approx(planned.cost_rate, rel=1e-3)


def test_rarer_openings_are_used_earlier_and_save_less() -> None:
    advices = [
        opportunity_replacement(
            Weibull(3, 12), openings_per_year=rate, renewal_cost=100, failure_cost=700
        ).advice
        for rate in (0.1, 0.3, 1.0, 10.0)
    ]
    ages, savings = [a.age_years for a in advices], [a.saving for a in advices]
    assert ages == sorted(ages)
    assert savings == sorted(savings)


def test_a_part_that_does_not_wear_is_left_at_every_opening() -> None:
    advice = opportunity_replacement(
        Weibull(1, 12), openings_per_year=0.5, renewal_cost=100, failure_cost=700
    ).advice
    assert (advice.age_years, advice.saving) == (math.inf, 0)


def test_rates_and_costs_must_be_positive() -> None:
    with pytest.raises(ValueError, match="openings_per_year 0 and renewal_cost 1, wanted both"):
        opportunity_replacement(Weibull(2, 1), openings_per_year=0, renewal_cost=1, failure_cost=5)
    with pytest.raises(ValueError, match="failure_cost is -5"):
        opportunity_replacement(Weibull(2, 1), openings_per_year=1, renewal_cost=1, failure_cost=-5)
