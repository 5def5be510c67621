"""How many of a part to keep on the shelf."""

from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from wornby.errors import EstimateError

Promise = Literal["demand is met", "one is left"]


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
