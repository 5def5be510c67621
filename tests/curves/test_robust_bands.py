"""Turnbull's band by vehicles drawn again."""

import numpy as np
import polars as pl

from wornby.curves.robust_bands import turnbull_band
from wornby.curves.vehicles import VehicleCounts, counts_by_vehicle


def inspected(n: int, rng: np.random.Generator) -> VehicleCounts:
    """Lives looked at each year until an age of their own."""
    life, stop = 8 * rng.weibull(2, n), rng.integers(3, 12, n).astype(float)
    lower = np.minimum(np.floor(life), stop)
    upper = np.where(life > stop, np.inf, np.floor(life) + 1)
    frame = pl.DataFrame(
        {"vehicle": np.arange(n), "entry": 0.0, "lower": lower, "upper": upper, "count": 1.0}
    )
    return counts_by_vehicle(frame, unit="years", what="hose", rule="as watched")


def test_the_band_holds_the_truth_at_fixed_looks() -> None:
    """At looks shared by all lives the curve is a life table, so limits hold near 90 %."""
    rng, held, ages = np.random.default_rng(1), np.zeros(2), np.array([3.0, 6.0])
    for _ in range(40):
        band = turnbull_band(inspected(150, rng), ages, rng=rng, n=40, confidence=0.9)
        truth = np.exp(-((ages / 8) ** 2))
        held += (band["lower"].to_numpy() <= truth) & (truth <= band["upper"].to_numpy())
    assert (held >= 30).all()
