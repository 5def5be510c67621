"""Do failures that come back come faster or slower as a vehicle ages?

Both tests ask whether each vehicle's failures are spread evenly over its watch (a homogeneous
Poisson process, with a rate of its own). A history is a frame as in `recurrence`. A failure at
the very end of a watch is left out, as in a test that stops at a failure (MIL-HDBK-189): where
a watch ends at the last visit, it was this failure that set the end, and by itself it would
look like a rate that rises.
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.stats import chi2, norm

from wornby.curves.log_ages import Array
from wornby.curves.recurrence import watches
from wornby.errors import EstimateError


@dataclass(frozen=True, slots=True)
class TrendTest:
    """A test of an even rate: positive `direction` says that failures come faster with age.

    `n_failures` are those within a watch, those at its end left out.
    """

    name: str
    statistic: float
    direction: int
    p_value: float
    n_failures: int


def places_in_watch(history: pl.DataFrame) -> Array:
    """Where each failure lies within its vehicle's watch, as a share of it; none at its end.

    EstimateError where there is none. HistoryError as `watches`.
    """
    watched = watches(history)
    failed = history.filter("failed").select("vehicle", "age")
    if not failed.height:
        raise EstimateError(f"no failure in {watched.height} vehicles: no trend to test")
    placed = failed.join(
        watched.select("vehicle", "entry", "end"), on="vehicle", how="left"
    ).filter(pl.col("age") < pl.col("end"))
    if not placed.height:
        raise EstimateError(f"all {failed.height} failures end a watch: no trend to test")
    share = (pl.col("age") - pl.col("entry")) / (pl.col("end") - pl.col("entry"))
    return placed.select(share.cast(pl.Float64)).to_series().to_numpy()


def laplace(history: pl.DataFrame) -> TrendTest:
    """Laplace's test: is the mean place of the failures the middle (Cox & Lewis 1966)?

    `history` as in `recurrence`. HistoryError as `watches`; EstimateError: no failure to place.

    >>> history = pl.DataFrame(
    ...     {
    ...         "vehicle": ["a", "a", "a", "b", "b"],
    ...         "age": [6.0, 9.0, 10.0, 4.0, 5.0],
    ...         "failed": [True, True, False, True, False],
    ...     }
    ... )
    >>> found = laplace(history)
    >>> round(found.statistic, 2), found.direction, found.n_failures
    (1.6, 1, 3)
    """
    places = places_in_watch(history)
    score = float((places - 0.5).sum() / np.sqrt(places.size / 12))
    p_value = float(2 * norm.sf(abs(score)))
    return TrendTest("Laplace", score, int(np.sign(score)), p_value, places.size)


def military_handbook(history: pl.DataFrame) -> TrendTest:
    """The test of MIL-HDBK-189: 2 sum log(watch / age), chi-square with two for each failure.

    Takes and refuses what `laplace` does.

    >>> history = pl.DataFrame(
    ...     {
    ...         "vehicle": ["a", "a", "a", "b", "b"],
    ...         "age": [6.0, 9.0, 10.0, 4.0, 5.0],
    ...         "failed": [True, True, False, True, False],
    ...     }
    ... )
    >>> found = military_handbook(history)
    >>> round(found.statistic, 2), found.direction
    (1.68, 1)
    """
    places = places_in_watch(history)
    statistic, freedom = float(-2 * np.log(places).sum()), 2 * places.size
    below = float(chi2.cdf(statistic, freedom))
    direction = 1 if below < 0.5 else -1
    return TrendTest(
        "MIL-HDBK-189", statistic, direction, float(2 * min(below, 1 - below)), places.size
    )
