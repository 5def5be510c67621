"""A band for Turnbull's curve, from vehicles drawn again."""

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from wornby.curves.bands import check_confidence
from wornby.curves.intervals import turnbull
from wornby.curves.vehicles import VehicleCounts
from wornby.histories.counts import Counts


def turnbull_band(
    by: VehicleCounts, ages: ArrayLike, *, rng: np.random.Generator, n: int, confidence: float
) -> pl.DataFrame:
    """Survival at each age with percentile limits of `n` resamples: age, survival, lower, upper.

    The curve converges at the cube root of the number of lives where failures are seen by
    inspection only, and there percentile limits are known to be somewhat too narrow (Sen,
    Banerjee & Woodroofe 2010).
    """
    check_confidence(confidence)
    at = np.atleast_1d(np.asarray(ages, dtype=np.float64))
    curves = np.empty((n, at.size))
    for i, weight in enumerate(by.resampled(rng, n)):
        table = by.counts.table.with_columns(count=weight).filter(pl.col("count") > 0)
        again = Counts(table, by.counts.unit, by.counts.what, by.counts.rule)
        curves[i] = turnbull(again).survival(at)
    tail = (1 - confidence) / 2
    lower, upper = np.quantile(curves, [tail, 1 - tail], axis=0)
    survival = turnbull(by.counts).survival(at)
    return pl.DataFrame({"age": at, "survival": survival, "lower": lower, "upper": upper})
