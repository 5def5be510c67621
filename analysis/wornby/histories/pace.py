"""How far a vehicle goes in a year, with what its own readings cannot tell taken from the fleet."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.stats import norm

from wornby.histories.counts import DAYS_PER_YEAR

Array = NDArray[np.float64]

LEAST_GAP_YEARS = 0.25
"""Between visits closer than this, rounded readings tell little of the pace."""
LEAST_MI = 1.0
FEWEST = 2
"""Vehicles, or stretches between readings, below which no spread can be judged."""


@dataclass(frozen=True, slots=True)
class FleetPace:
    """The fleet's distribution of pace, and how unevenly a vehicle keeps its own.

    A vehicle's logarithm of miles a year is normal with mean `log_mean` and variance
    `between`. Within a vehicle the distance gone in t years varies around its pace with a
    squared coefficient of variation of `within` / t. Each is None where too few tell it.
    """

    log_mean: float | None
    between: float | None
    within: float | None


def fleet_pace(readings: pl.DataFrame) -> FleetPace:
    """What the readings of all vehicles, each from new (`odometer_readings`), say of their paces.

    Distance grows with independent increments around a pace of the vehicle's own, so that d (p /
    pace - 1)^2, over the stretches of d years gone at p, has mean `within`; one degree of
    freedom a vehicle goes to its pace. The variance between vehicles is the moment estimate of
    DerSimonian & Laird (1986, equation 8), for means that are not equally sure.
    """
    seen = _own_paces(readings).filter(pl.col("own_pace").is_not_null())
    within = _within(readings, seen)
    if seen.height < FEWEST or within is None:
        middle = seen["own_pace"].log().mean()
        return FleetPace(middle if isinstance(middle, float) else None, None, within)
    log_pace = seen["own_pace"].log().to_numpy()
    error = within / seen["span_years"].to_numpy()
    between = between_variance(log_pace, error)
    weight = 1 / (error + between) if within + between > 0 else np.ones(error.size)
    return FleetPace(float(np.average(log_pace, weights=weight)), between, within)


def between_variance(values: Array, errors: Array) -> float:
    """The variance between means whose error variances are given (DerSimonian & Laird 1986).

    >>> round(between_variance(np.array([1.0, 2.0, 4.0]), np.array([0.5, 0.5, 0.5])), 4)
    1.8333
    """
    if not errors.any():
        return float(values.var(ddof=1))
    weight = 1 / errors
    centre = np.average(values, weights=weight)
    spread = float((weight * (values - centre) ** 2).sum())
    scale = float(weight.sum() - (weight**2).sum() / weight.sum())
    return max(0.0, (spread - (values.size - 1)) / scale)


def annual_distance(readings: pl.DataFrame, *, confidence: float) -> pl.DataFrame:
    """Each vehicle's miles a year, drawn towards the fleet's as far as its own are unsure.

    Takes readings from new, as `distance.odometer_readings` gives them. Columns vehicle,
    readings (beside the one of new), span_years, own_pace, pooled_pace, lower, upper, pull:
    the share of the fleet's in the pooled pace, 1 for a vehicle never read. Empirical Bayes for
    normal means of unequal variance (Efron & Morris 1975, section 3) on the logarithm, whose
    error variance is `within` / span (delta method). Where too few vehicles tell the spread,
    each keeps its own pace and there are no limits.

    >>> from datetime import date
    >>> frame = pl.DataFrame(
    ...     {
    ...         "vehicle": ["A", "A", "A", "B", "B", "B"],
    ...         "date": [date(2010, 1, 1), date(2014, 1, 1), date(2018, 1, 1)] * 2,
    ...         "odometer_mi": [0.0, 40_000.0, 88_000.0, 0.0, 20_000.0, 36_000.0],
    ...     }
    ... )
    >>> made = annual_distance(frame, confidence=0.9)
    >>> made.select(pl.col("own_pace", "pooled_pace").round(), pl.col("pull").round(3)).row(0)
    (11000.0, 10874.0, 0.026)
    """
    fleet = fleet_pace(readings)
    own = _own_paces(readings)
    if fleet.log_mean is None or fleet.between is None or fleet.within is None:
        none = pl.lit(None, pl.Float64)
        pooled = pl.coalesce("own_pace", pl.lit(fleet.log_mean, pl.Float64).exp())
        pull = pl.when(pl.col("own_pace").is_null()).then(1.0).otherwise(0.0)
        return own.with_columns(pooled_pace=pooled, lower=none, upper=none, pull=pull)
    error = fleet.within / pl.col("span_years")
    both = error + fleet.between
    known = pl.col("own_pace").is_not_null()
    pull = pl.when(known & (both > 0)).then(error / both).when(known).then(0.0).otherwise(1.0)
    centre = pl.col("own_pace").log().fill_null(0.0) * (1 - pull) + fleet.log_mean * pull
    reach = float(norm.ppf((1 + confidence) / 2)) * (pull * fleet.between).sqrt()
    return own.with_columns(
        pooled_pace=centre.exp(),
        lower=(centre - reach).exp(),
        upper=(centre + reach).exp(),
        pull=pull,
    )


def _own_paces(readings: pl.DataFrame) -> pl.DataFrame:
    """Miles a year from new to the last reading; null where that is not even a mile."""
    spans = (
        readings.sort("date")
        .group_by("vehicle")
        .agg(
            readings=pl.len() - 1,
            span_years=(pl.col("date").last() - pl.col("date").first()).dt.total_days()
            / DAYS_PER_YEAR,
            last_mi=pl.col("odometer_mi").last(),
        )
    )
    told = (pl.col("span_years") > 0) & (pl.col("last_mi") >= LEAST_MI)
    return (
        spans.with_columns(own_pace=pl.when(told).then(pl.col("last_mi") / pl.col("span_years")))
        .drop("last_mi")
        .sort("vehicle")
    )


def _within(readings: pl.DataFrame, seen: pl.DataFrame) -> float | None:
    """The squared coefficient of variation of a year's distance around the vehicle's pace."""
    years = (pl.col("date") - pl.col("date").shift(1).over("vehicle")).dt.total_days()
    gain = pl.col("odometer_mi") - pl.col("odometer_mi").shift(1).over("vehicle")
    stretches = (
        readings.sort("vehicle", "date")
        .select("vehicle", years=years / DAYS_PER_YEAR, gain=gain)
        .filter(pl.col("years") >= LEAST_GAP_YEARS)
        .join(seen.select("vehicle", "own_pace"), on="vehicle")
    )
    off = pl.col("gain") / (pl.col("years") * pl.col("own_pace")) - 1
    sums = stretches.group_by("vehicle").agg(
        square=(pl.col("years") * off**2).sum(), freedom=pl.len() - 1
    )
    told = sums.filter(pl.col("freedom") > 0)
    freedom = int(told["freedom"].sum())
    return float(told["square"].sum()) / freedom if freedom >= FEWEST else None
