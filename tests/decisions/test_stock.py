import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from wornby.decisions.stock import (
    StockAdvice,
    base_stock,
    negative_binomial_demand,
    poisson_demand,
    stock_advice,
)
from wornby.errors import EstimateError


@given(mean=st.floats(0, 60), level=st.floats(0.5, 0.999))
def test_stock_covers_its_level_and_one_less_does_not(mean: float, level: float) -> None:
    stock = base_stock(poisson_demand(mean), service_level=level, promise="demand is met")
    assert stats.poisson.cdf(stock, mean) >= level - 1e-9
    assert stats.poisson.cdf(stock - 1, mean) < level


@given(mean=st.floats(0.1, 30), size=st.floats(0.3, 20))
def test_demand_has_its_mean_and_its_chances_add_up(mean: float, size: float) -> None:
    chances = negative_binomial_demand(mean, size=size)
    assert chances.sum() == pytest.approx(1, abs=1e-6)
    assert chances @ np.arange(len(chances)) == pytest.approx(mean, rel=1e-4)


def test_lumpy_demand_takes_more_stock() -> None:
    even = base_stock(poisson_demand(5), service_level=0.95, promise="demand is met")
    lumpy = base_stock(
        negative_binomial_demand(5, size=1.5), service_level=0.95, promise="demand is met"
    )
    assert lumpy > even


def test_levels_out_of_reach_are_refused() -> None:
    with pytest.raises(ValueError, match=r"service_level is 1\.0"):
        base_stock(poisson_demand(1), service_level=1.0, promise="demand is met")
    with pytest.raises(EstimateError, match=r"add up to 0\.500000"):
        base_stock(np.array([0.3, 0.2]), service_level=0.9, promise="demand is met")
    with pytest.raises(ValueError, match="mean is -1"):
        poisson_demand(-1)
    with pytest.raises(ValueError, match="size is 0"):
        negative_binomial_demand(1, size=0)


def advised(
    mean: float,
    *,
    level: float = 0.95,
    holding: float = 20.0,
    out: float = 60.0,
    years: float = 0.1,
) -> StockAdvice:
    return stock_advice(
        poisson_demand(mean),
        lead_time_years=years,
        service_level=level,
        holding_per_part_year_net=holding,
        stock_out_cost_net=out,
    )


@given(mean=st.floats(0.01, 30), low=st.floats(0.5, 0.99), more=st.floats(0, 0.0099))
def test_a_higher_service_level_never_lowers_the_stock(
    mean: float, low: float, more: float
) -> None:
    before, after = (advised(mean, level=level).for_service_level for level in (low, low + more))
    assert after >= before


@given(mean=st.floats(0.01, 20), holding=st.floats(0.5, 200), out=st.floats(1, 500))
def test_the_least_cost_stock_has_the_critical_ratio_of_the_newsvendor(
    mean: float, holding: float, out: float
) -> None:
    """One more part costs holding x P(D <= s) and saves out x rate x P(D = s).

    The newsvendor's marginal argument (Arrow, Harris & Marschak 1951, from memory) on a base
    stock: the least cost is at the first stock where holding outweighs what is saved.
    """
    told = advised(mean, holding=holding, out=out)
    rate, law = mean / 0.1, stats.poisson(mean)
    s = told.least_cost
    assert holding * law.cdf(s) >= out * rate * law.pmf(s) * (1 - 1e-6)
    if s:
        assert holding * law.cdf(s - 1) <= out * rate * law.pmf(s - 1) * (1 + 1e-6)


@given(mean=st.floats(0.01, 20), factor=st.floats(0.1, 20))
def test_dearer_money_leaves_the_stock_and_scales_its_cost(mean: float, factor: float) -> None:
    before, after = advised(mean), advised(mean, holding=20 * factor, out=60 * factor)
    assert after.least_cost == before.least_cost
    assert after.cost_of(1) == pytest.approx(factor * before.cost_of(1))


def test_a_simulated_shelf_has_the_stated_costs() -> None:
    """Each use orders one; orders take 0.1 years; 5,000 years of Poisson demand, 12 a year."""
    rng, stock, lead, n = np.random.default_rng(3), 2, 0.1, 60_000
    asked = np.cumsum(rng.exponential(1 / 12, n))
    before = np.arange(n) - np.searchsorted(asked, asked - lead)
    times = rng.uniform(1, asked[-1], 200_000)
    on_order = np.searchsorted(asked, times) - np.searchsorted(asked, times - lead)
    told = advised(1.2)
    row = told.table.row(stock, named=True)
    assert row["in_stock_chance"] == pytest.approx(np.mean(before < stock), abs=0.008)
    assert row["stock_outs_per_year"] == pytest.approx(
        (before >= stock).sum() / asked[-1], rel=0.03
    )
    on_hand = np.maximum(stock - on_order, 0).mean()
    assert row["holding_per_year_net"] == pytest.approx(20 * on_hand, rel=0.01)


def test_a_rate_in_doubt_has_its_own_stock_outs() -> None:
    """Mixed Poisson demand: stock-outs averaged over rates drawn one by one."""
    rng, lead, size, mean = np.random.default_rng(4), 0.1, 1.5, 2.0
    told = stock_advice(
        negative_binomial_demand(mean, size=size),
        lead_time_years=lead,
        service_level=0.9,
        holding_per_part_year_net=20.0,
        stock_out_cost_net=60.0,
    )
    rates = rng.gamma(size, mean / size, 200_000)
    outs = (rates / lead * stats.poisson.sf(2, rates)).mean()
    assert told.table["stock_outs_per_year"][3] == pytest.approx(outs, rel=0.02)


def test_a_part_seldom_asked_for_is_ordered_when_wanted() -> None:
    told = advised(0.001, holding=30, out=20, years=0.02)
    assert (told.for_service_level, told.least_cost) == (1, 0)
    assert told.cost_of(0) == pytest.approx(20 * 0.001 / 0.02)


@pytest.mark.parametrize(
    ("years", "holding", "out", "said"),
    [(0.0, 1.0, 1.0, "lead_time_years is 0"), (1.0, -1.0, 1.0, "holding"), (1.0, 1.0, -1.0, "out")],
)
def test_costs_no_shelf_can_have_are_refused(
    years: float, holding: float, out: float, said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        advised(1.0, years=years, holding=holding, out=out)
