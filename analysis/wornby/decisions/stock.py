"""How many of a part to keep on the shelf."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy import stats

from wornby.errors import EstimateError

Promise = Literal["demand is met", "one is left"]


@dataclass(frozen=True, eq=False, slots=True)
class StockAdvice:
    """How many to keep for the service level, and how many cost least; none is an answer.

    `table` has a row for each stock from none up: stock, in_stock_chance, stock_outs_per_year,
    holding_per_year_net, cost_per_year_net.
    """

    for_service_level: int
    least_cost: int
    demand_per_year: float
    table: pl.DataFrame

    def cost_of(self, stock: int) -> float:
        """Holding and stock-outs, a year, at this stock."""
        return float(self.table["cost_per_year_net"][stock])


def stock_advice(
    chances: NDArray[np.float64],
    *,
    lead_time_years: float,
    service_level: float,
    holding_per_part_year_net: float,
    stock_out_cost_net: float,
) -> StockAdvice:
    """What each stock costs a year when every part used is ordered again at once.

    `chances[n]` is the chance that n parts are asked for within the lead time. A job finds its
    part where fewer than the stock have been asked for in the lead time before it ("one is
    left"); on average stock less demand, as far as there is any, lies on the shelf (base stock
    with back orders: Zipkin 2000, chapter 6, from memory). Stock-outs a lead time are
    the mean of the demand where it exceeds the stock: exact for Poisson demand, its rate known
    or not.

    >>> advice = stock_advice(
    ...     poisson_demand(0.5), lead_time_years=0.1, service_level=0.95,
    ...     holding_per_part_year_net=20.0, stock_out_cost_net=60.0,
    ... )
    >>> advice.for_service_level, advice.least_cost, round(advice.demand_per_year, 1)
    (3, 3, 5.0)
    """
    _check_stock(lead_time_years, holding_per_part_year_net, stock_out_cost_net)
    most = base_stock(chances, service_level=service_level, promise="one is left")
    counts = np.arange(len(chances))
    stocks = np.arange(max(most, _never_out(chances)) + 1)
    more = counts[None, :] > stocks[:, None]
    outs = (counts * chances * more).sum(axis=1) / lead_time_years
    on_hand = (np.maximum(stocks[:, None] - counts, 0) * chances).sum(axis=1)
    holding = holding_per_part_year_net * on_hand
    cost = holding + stock_out_cost_net * outs
    below = np.concatenate([[0.0], np.cumsum(chances)])
    table = pl.DataFrame(
        {
            "stock": stocks,
            "in_stock_chance": np.minimum(below[np.minimum(stocks, len(chances))], 1.0),
            "stock_outs_per_year": outs,
            "holding_per_year_net": holding,
            "cost_per_year_net": cost,
        }
    )
    demand = float(counts @ chances) / lead_time_years
    return StockAdvice(most, int(np.argmin(cost)), demand, table)


def _never_out(chances: NDArray[np.float64]) -> int:
    """A stock that next to no lead time exceeds."""
    return int(np.searchsorted(np.cumsum(chances), (1 - 1e-9) * chances.sum())) + 1


def _check_stock(lead_time_years: float, holding: float, stock_out: float) -> None:
    for name, value in (
        ("lead_time_years", lead_time_years),
        ("holding_per_part_year_net", holding),
        ("stock_out_cost_net", stock_out),
    ):
        if not math.isfinite(value) or value < 0 or (value == 0 and name == "lead_time_years"):
            raise ValueError(f"stock: {name} is {value}, wanted a finite number from 0 up")


def base_stock(chances: NDArray[np.float64], *, service_level: float, promise: Promise) -> int:
    """The least stock that keeps its promise with the wanted chance over one lead time.

    `chances[n]` is the chance that n parts are asked for within the lead time (the horizon of
    `expected_failures`). "demand is met": the stock covers it; "one is left": a part is still
    on the shelf afterwards (the ready rate), which takes one more.

    >>> base_stock(poisson_demand(2.0), service_level=0.95, promise="demand is met")
    5
    """
    if not 0 < service_level < 1:
        raise ValueError(f"base stock: service_level is {service_level}, wanted between 0 and 1")
    enough = np.flatnonzero(np.cumsum(chances) >= service_level)
    if not enough.size:
        raise EstimateError(
            f"base stock: the demand's chances add up to {chances.sum():.6f}, "
            f"short of the service level {service_level}"
        )
    return int(enough[0]) + (promise == "one is left")


def poisson_demand(mean: float) -> NDArray[np.float64]:
    """Chances of 0, 1, 2, ... parts asked for, when demand comes at a known mean rate."""
    _check_mean(mean)
    return np.asarray(stats.poisson.pmf(_counts(mean, mean), mean))


def negative_binomial_demand(mean: float, *, size: float) -> NDArray[np.float64]:
    """Chances of 0, 1, 2, ... parts when the rate itself is uncertain or demand is lumpy.

    A Poisson count whose mean is gamma with shape `size`: variance mean + mean^2 / size.
    """
    _check_mean(mean)
    if size <= 0:
        raise ValueError(f"negative binomial demand: size is {size}, wanted above 0")
    counts = _counts(mean, mean + mean**2 / size)
    return np.asarray(stats.nbinom.pmf(counts, size, size / (size + mean)))


def _counts(mean: float, variance: float) -> NDArray[np.int64]:
    return np.arange(int(mean + 40 * np.sqrt(variance)) + 40)


def _check_mean(mean: float) -> None:
    if not np.isfinite(mean) or mean < 0:
        raise ValueError(f"demand: mean is {mean}, wanted a finite number from 0 up")
