import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from wornby.decisions.stock import base_stock, negative_binomial_demand, poisson_demand
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
