"""What a price earns and risks, on one job and over the year."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from wornby.decisions.costs_of_jobs import Counts, Floats, JobCosts

Bound = Literal["the margin", "the risk on a job", "the risk over the year"]


@dataclass(frozen=True, slots=True)
class PriceAim:
    """What a fixed price must achieve: a share of the price kept, and risks not exceeded.

    `margin_share` is profit over price, in the mean; `job_risk` the chance of losing money on
    a job; `year_risk` that of losing money over next year's jobs.
    """

    margin_share: float
    job_risk: float
    year_risk: float

    def __post_init__(self) -> None:
        """Refuse shares that are none."""
        for name in ("margin_share", "job_risk", "year_risk"):
            share = getattr(self, name)
            if not 0 <= share < 1 or (share == 0 and name != "margin_share"):
                raise ValueError(f"price aim: {name} is {share}, wanted between 0 and 1")


@dataclass(frozen=True, slots=True)
class AimedPrice:
    """The least price that meets an aim, and which part of the aim set it.

    `loading_share` says by how much the risks raise it above the price for the margin alone.
    """

    price_net: float
    bound_by: Bound
    loading_share: float


def price_for(job: Floats, year: Floats, year_jobs: Counts, *, aim: PriceAim) -> AimedPrice:
    """The least price with the wanted margin that keeps both risks."""
    each = np.divide(year, year_jobs, out=np.zeros_like(year), where=year_jobs > 0)
    prices: dict[Bound, float] = {
        "the margin": float(job.mean()) / (1 - aim.margin_share),
        "the risk on a job": float(np.quantile(job, 1 - aim.job_risk, method="inverted_cdf")),
        "the risk over the year": float(
            np.quantile(each, 1 - aim.year_risk, method="inverted_cdf")
        ),
    }
    bound = max(prices, key=lambda name: prices[name])
    return AimedPrice(prices[bound], bound, prices[bound] / prices["the margin"] - 1)


def price_menu(
    costs: JobCosts, prices: Sequence[float], *, confidence: float = 0.90
) -> pl.DataFrame:
    """One row a price: what it earns and risks on a job and over the year, found work included.

    Columns: price_net, expected_margin_share, job_loss_chance, year_profit_net with its
    lower and upper limit at `confidence`, year_loss_chance.
    """
    ends = [(1 - confidence) / 2, (1 + confidence) / 2]
    rows = []
    for price in sorted(set(prices)):
        profit = price * costs.year_jobs - costs.year
        lower, upper = np.quantile(profit, ends)
        rows.append(
            {
                "price_net": float(price),
                "expected_margin_share": 1 - float(costs.job.mean()) / price,
                "job_loss_chance": float((costs.job > price).mean()),
                "year_profit_net": float(profit.mean()),
                "year_profit_lower_net": float(lower),
                "year_profit_upper_net": float(upper),
                "year_loss_chance": float((profit < 0).mean()),
            }
        )
    return pl.DataFrame(rows)
