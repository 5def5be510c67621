"""The three policies beside one another, under draws and on curves of any form."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wornby.curves.stepped_hazards import HazardDraws
from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.block import block_replacement, renewal_function
from wornby.decisions.least_cost_age import RenewalAdvice, UncertainRenewalAdvice
from wornby.decisions.long_run import mean_service, weibull_mean_life
from wornby.decisions.opportunity import opportunity_replacement
from wornby.decisions.renewal_age import age_replacement

MANY = 40_000


def one(shape: float, scale: float) -> WeibullDraws:
    return WeibullDraws(np.array([shape]), np.array([scale]), "years")


def doubtful(n: int) -> WeibullDraws:
    rng = np.random.default_rng(8)
    return WeibullDraws(
        3 * np.exp(0.2 * rng.standard_normal(n)), 10 * np.exp(0.1 * rng.standard_normal(n)), "years"
    )


def by_block(draws: WeibullDraws, planned: float, failure: float) -> UncertainRenewalAdvice:
    return block_replacement(draws, planned_cost=planned, failure_cost=failure, steps=300)


def policies(life: WeibullDraws, planned: float, failure: float) -> list[RenewalAdvice]:
    opening = 3 / float(life.scale[0])
    by_opening = opportunity_replacement(
        life, openings_per_year=opening, renewal_cost=planned, failure_cost=failure
    )
    alone = age_replacement(life, planned_cost=planned, failure_cost=failure)
    return [alone.advice, by_block(life, planned, failure).advice, by_opening.advice]


@given(shape=st.floats(1.3, 5), scale=st.floats(1, 40), ratio=st.floats(1.5, 20))
def test_doubling_all_costs_leaves_every_age_and_doubles_the_cost(
    shape: float, scale: float, ratio: float
) -> None:
    life = one(shape, scale)
    for before, after in zip(
        policies(life, 100, 100 * ratio), policies(life, 200, 200 * ratio), strict=True
    ):
        assert after.age_years == pytest.approx(before.age_years, rel=1e-4)
        assert after.cost_rate == pytest.approx(2 * before.cost_rate, rel=1e-8)


@given(scale=st.floats(1, 40), ratio=st.floats(1.1, 30), openings=st.floats(0.02, 5))
def test_exponential_life_is_never_renewed_early(
    scale: float, ratio: float, openings: float
) -> None:
    life = one(1.0, scale)
    assert by_block(life, 100, 100 * ratio).advice.age_years == math.inf
    told = opportunity_replacement(
        life, openings_per_year=openings, renewal_cost=100, failure_cost=100 * ratio
    )
    assert told.advice.saving == pytest.approx(0, abs=1e-6)


@given(shape=st.floats(1.3, 5), ratio=st.floats(1.5, 20))
def test_renewal_by_the_calendar_never_beats_renewal_by_age(shape: float, ratio: float) -> None:
    """Barlow & Proschan (1965): blocks also renew parts that have just been renewed."""
    life = one(shape, 10.0)
    by_age = age_replacement(life, planned_cost=100, failure_cost=100 * ratio).advice
    assert by_block(life, 100, 100 * ratio).advice.cost_rate >= by_age.cost_rate * (1 - 1e-6)


@pytest.mark.parametrize("interval", [3.0, 5.0, 9.0])
def test_a_simulation_of_blocks_has_the_stated_cost(interval: float) -> None:
    """Independent of the integral equation: lives drawn one after the other, failures counted."""
    rng = np.random.default_rng(6)
    failed_at = np.cumsum(10 * rng.weibull(3, size=(MANY, 12)), axis=1)
    counts = (failed_at <= interval).sum(axis=1)
    cost = (100 + 700 * counts) / interval
    expected = (100 + 700 * renewal_function(one(3, 10), interval)[0, 0]) / interval
    assert expected == pytest.approx(cost.mean(), abs=3 * cost.std() / math.sqrt(MANY))


def test_the_advised_block_is_the_least_by_brute_force() -> None:
    told = by_block(doubtful(60), 100, 700)
    intervals = np.linspace(1, 15, 561)
    failures = renewal_function(doubtful(60), intervals, steps=600)
    brute = ((100 + 700 * failures) / intervals).mean(axis=0)
    assert told.advice.cost_rate == pytest.approx(brute.min(), rel=1e-4)
    assert told.advice.age_years == pytest.approx(intervals[brute.argmin()], abs=0.05)


def test_openings_agree_with_direct_integration() -> None:
    """The integral equation solved another way: a plain trapezium over a million steps."""
    age, openings = 4.0, 0.3
    t = np.linspace(0, 40, 1_000_001)
    survival = np.exp(-((t / 10) ** 3))
    fade = np.exp(-openings * np.maximum(t - age, 0))
    length = np.trapezoid(survival * fade, t)
    by_plan = openings * np.trapezoid(np.where(t >= age, survival * fade, 0), t)
    wanted = (700 * (1 - by_plan) + 100 * by_plan) / length
    told = opportunity_replacement(
        one(3, 10), openings_per_year=openings, renewal_cost=100, failure_cost=700
    )
    table = told.table.sort("age_years")
    rate = np.interp(age, table["age_years"], table["cost_per_year_net"])
    assert rate == pytest.approx(wanted, rel=1e-3)


def test_draws_each_have_their_own_rate_of_openings() -> None:
    rates = np.array([0.1, 2.0])
    pair = WeibullDraws(np.full(2, 3.0), np.full(2, 10.0), "years")
    told = opportunity_replacement(
        pair, openings_per_year=rates, renewal_cost=100, failure_cost=700
    )
    alone = [
        opportunity_replacement(
            one(3, 10), openings_per_year=rate, renewal_cost=100, failure_cost=700
        )
        for rate in rates
    ]
    assert alone[0].advice.age_years < told.advice.age_years < alone[1].advice.age_years
    assert told.gains == pytest.approx([a.advice.saving for a in alone], abs=1e-3)


def test_lengths_of_draws_agree_with_the_closed_form_of_the_weibull() -> None:
    draws = doubtful(50)
    assert mean_service(draws).mean_life == pytest.approx(weibull_mean_life(draws), rel=1e-7)
    wild = WeibullDraws(np.array([0.15, 2.7, 6.0]), np.array([1600.0, 30.0, 90.0]), "years")
    assert mean_service(wild).mean_life == pytest.approx(weibull_mean_life(wild), rel=1e-4)


def test_a_curve_in_steps_is_renewed_where_its_hazard_rises() -> None:
    """By hand: no failure for 5 years, then one a year; renewing at 5 costs 100 / 5 a year."""
    steps = HazardDraws(np.array([[0.0, 5.0]]), np.array([[1e-9, 1.0]]), "years")
    told = age_replacement(steps, planned_cost=100, failure_cost=900).advice
    assert told.age_years == pytest.approx(5, rel=0.02)
    assert told.cost_rate == pytest.approx(20, rel=0.02)
    assert told.run_to_failure_rate == pytest.approx(900 / 6, rel=1e-3)


def test_the_band_holds_the_curve_and_the_draws_agree_with_it() -> None:
    told = age_replacement(doubtful(800), planned_cost=400, failure_cost=1600, confidence=0.9)
    table = told.table
    assert (table["lower_net"] <= table["upper_net"]).all()
    near = table.filter((table["age_years"] > 4) & (table["age_years"] < 12))
    assert (near["lower_net"] < near["cost_per_year_net"]).all()
    assert (near["cost_per_year_net"] < near["upper_net"]).all()
    assert told.rates.mean() == pytest.approx(told.advice.cost_rate)
    assert told.run_to_failure.mean() == pytest.approx(told.advice.run_to_failure_rate)
    assert told.probability_worth(0.01) >= told.probability_worth(0.2)


def test_no_payment_is_not_a_block() -> None:
    with pytest.raises(ValueError, match="block replacement: planned_cost 0"):
        block_replacement(one(2, 1), planned_cost=0, failure_cost=5)
