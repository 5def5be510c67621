"""Failures for each thousand car-years, with exact limits, and their trend over the years."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import ArrayLike
from scipy.stats import chi2

from wornby.curves.bands import check_confidence, normal_root
from wornby.curves.log_ages import Array
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError

PER = 1000.0
AGE_BAND_YEARS = 3
GROUPS = {
    "calendar year": pl.col("calendar_year"),
    "age": (pl.col("calendar_year") - pl.col("model_year")) // AGE_BAND_YEARS * AGE_BAND_YEARS,
    "model year": pl.col("model_year"),
}
"""What rates may be told by; an age group is told by the first of its three years."""
MOST_STEPS = 50
CLOSE_ENOUGH = 1e-10


def poisson_limits(failures: ArrayLike, *, confidence: float) -> tuple[Array, Array]:
    """Exact limits of the number expected where so many were seen (Garwood 1936).

    >>> lower, upper = poisson_limits([0, 10], confidence=0.95)
    >>> lower.round(3).tolist(), upper.round(3).tolist()
    ([0.0, 4.795], [3.689, 18.39])
    """
    check_confidence(confidence)
    n = np.asarray(failures, dtype=np.float64)
    tail = (1 - confidence) / 2
    lower = np.where(n > 0, chi2.ppf(tail, np.maximum(2 * n, 1)) / 2, 0.0)
    return lower, np.asarray(chi2.ppf(1 - tail, 2 * n + 2) / 2)


def rate(failures: float, car_years: float, *, confidence: float) -> Estimate:
    """Failures for each thousand car-years with exact limits."""
    unit = "per 1,000 car-years"
    if car_years <= 0:
        return Estimate(None, None, None, confidence, unit, "no car-years")
    lower, upper = poisson_limits(failures, confidence=confidence)
    value, low, high = (PER * float(x) / car_years for x in (failures, lower, upper))
    return Estimate(value, low, high, confidence, unit)


def failure_rates(cells: pl.DataFrame, *, by: str, confidence: float) -> pl.DataFrame:
    """Failures for each thousand car-years, by calendar year, age or model year.

    Takes model_year, calendar_year, failures and car_years, a row a cell. Columns group, failures,
    car_years, value, lower, upper. Cells without car-years add neither. ValueError: told by
    something else.

    >>> cells = pl.DataFrame(
    ...     {
    ...         "model_year": [2004, 2004, 2008, 2008],
    ...         "calendar_year": [2014, 2016, 2014, 2016],
    ...         "failures": [9, 14, 4, 7],
    ...         "car_years": [900.0, 800.0, 1000.0, 950.0],
    ...     }
    ... )
    >>> rates = failure_rates(cells, by="calendar year", confidence=0.9)
    >>> rates.select("group", pl.col("value", "lower", "upper").round(1)).rows()
    [(2014, 6.8, 4.0, 10.9), (2016, 12.0, 8.0, 17.3)]
    """
    if by not in GROUPS:
        raise ValueError(f"rates by {by!r}: wanted by {', '.join(GROUPS)}")
    known = cells.filter(pl.col("car_years") > 0)
    summed = (
        known.group_by(group=GROUPS[by])
        .agg(pl.col("failures").sum(), pl.col("car_years").sum())
        .sort("group")
    )
    failures, years = summed["failures"].to_numpy(), summed["car_years"].to_numpy()
    lower, upper = poisson_limits(failures, confidence=confidence)
    told = {"value": failures, "lower": lower, "upper": upper}
    return summed.with_columns(**{k: pl.Series(PER * v / years) for k, v in told.items()})


@dataclass(frozen=True, slots=True)
class RateTrend:
    """How a rate changes from one calendar year to the next, among vehicles of one age.

    `yearly` is the factor for each calendar year, `ageing` the power of age by which the rate
    grows: 1 less than a Weibull shape. `dispersion` above 1 has widened both intervals.
    """

    yearly: Estimate
    ageing: Estimate
    dispersion: float


def rate_trend(cells: pl.DataFrame, *, confidence: float) -> RateTrend:
    """The trend over calendar years at a given age, by Poisson regression.

    log rate = constant + power x log(age + 1/2) + change x calendar year, maximum likelihood;
    errors are widened by Pearson's dispersion where it is above 1 (McCullagh & Nelder 1989, section
    6.2). Age, calendar year and model year cannot all be told apart, as each follows from the other
    two: model year is left out (Clayton & Schifflers 1987). EstimateError: no failure, one calendar
    year or age only, or a trend that runs away.

    >>> cells = pl.DataFrame(
    ...     {
    ...         "model_year": [2004, 2004, 2008, 2008],
    ...         "calendar_year": [2014, 2016, 2014, 2016],
    ...         "failures": [9, 14, 4, 7],
    ...         "car_years": [900.0, 800.0, 1000.0, 950.0],
    ...     }
    ... )
    >>> trend = rate_trend(cells, confidence=0.9)
    >>> round(trend.yearly.value, 2), round(trend.ageing.value, 2)
    (1.08, 2.09)
    """
    known = cells.filter(pl.col("car_years") > 0)
    failures, years = known["failures"].to_numpy(), known["car_years"].to_numpy()
    if not failures.sum():
        raise EstimateError("no failure in the car-years: no trend")
    age = known.select((pl.col("calendar_year") - pl.col("model_year")).clip(lower_bound=0))
    calendar = known["calendar_year"].to_numpy().astype(np.float64)
    columns = [np.ones(years.size), np.log(age.to_series().to_numpy() + 0.5), calendar]
    design = np.stack([columns[0], *(c - c.mean() for c in columns[1:])], axis=1)
    if np.linalg.matrix_rank(design) < design.shape[1]:
        raise EstimateError("one calendar year or one age only: no trend")
    found, covariance, dispersion = _poisson(design, failures.astype(np.float64), years)
    reach = normal_root(confidence) * np.sqrt(np.diag(covariance))

    def told(place: int, *, natural: bool) -> Estimate:
        ends = found[place] + np.array([0.0, -1.0, 1.0]) * reach[place]
        value, lower, upper = (float(x) for x in (np.exp(ends) if natural else ends))
        return Estimate(value, lower, upper, confidence, "factor a year" if natural else "")

    return RateTrend(told(2, natural=True), told(1, natural=False), dispersion)


def _poisson(design: Array, failures: Array, years: Array) -> tuple[Array, Array, float]:
    """Coefficients of a log-linear rate, their covariance and Pearson's dispersion."""
    found = np.zeros(design.shape[1])
    found[0] = np.log(failures.sum() / years.sum())
    for _ in range(MOST_STEPS):
        expected = years * np.exp(np.clip(design @ found, -50, 50))
        information = design.T @ (expected[:, None] * design)
        step = np.linalg.solve(information, design.T @ (failures - expected))
        found = found + step
        if np.abs(step).max() < CLOSE_ENOUGH:
            break
    else:
        raise EstimateError(f"{failures.sum():g} failures: the trend runs away")
    expected = years * np.exp(design @ found)
    spare = years.size - design.shape[1]
    pearson = float(((failures - expected) ** 2 / expected).sum())
    dispersion = max(1.0, pearson / spare) if spare > 0 else 1.0
    return found, np.linalg.inv(information) * dispersion, dispersion
