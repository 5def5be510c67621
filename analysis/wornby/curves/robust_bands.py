"""Bands that let the parts of one vehicle depend on one another."""

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from wornby.curves.bands import Band, check_confidence, hazard_limits, survival_limits
from wornby.curves.intervals import turnbull
from wornby.curves.log_ages import Array
from wornby.curves.nonparametric import HazardCurve, SurvivalCurve, kaplan_meier, nelson_aalen
from wornby.curves.vehicles import VehicleCounts
from wornby.histories.counts import Counts

MOST_AT_ONCE = 4_000_000


def surprises(by: VehicleCounts, table: pl.DataFrame) -> Array:
    """Failures less what the hazard led to expect, by life and failure age (rows, ages)."""
    entry, lower, upper, _ = (column[:, None] for column in by.counts.columns())
    age, hazard = table["age"].to_numpy(), (table["failures"] / table["at_risk"]).to_numpy()
    watched = (entry < age) & (age <= lower)
    return np.asarray(((lower == upper) & (lower == age)) - watched * hazard)


def summed_squares(by: VehicleCounts, moved: Array) -> Array:
    """Sum over vehicles of the squared sum over their lives, at each age."""
    block = max(MOST_AT_ONCE // max(moved.shape[1], 1), 1)
    parts = (by.lives[first : first + block] @ moved for first in range(0, by.n_vehicles, block))
    return np.asarray(sum((np.asarray(part) ** 2).sum(0) for part in parts), dtype=np.float64)


def kaplan_meier_by_vehicle(
    by: VehicleCounts,
    *,
    confidence: float,
    band: Band = "log-log",
    early_rule: str = "after a collapse",
    begins_at: float | None = None,
) -> SurvivalCurve:
    """Kaplan-Meier with standard errors by vehicle: the infinitesimal jackknife.

    With one life a vehicle it is close to Greenwood's (Lin & Wei 1989; Therneau & Grambsch 2000).
    Takes, gives and refuses what `kaplan_meier` does.

    >>> from wornby.curves.vehicles import counts_by_vehicle
    >>> ages = [4.0, 4.0, 7.0, 7.0, 9.0, 9.0]
    >>> lives = pl.DataFrame(
    ...     {"vehicle": list("aabbcc"), "entry": 0.0, "lower": ages, "upper": ages, "count": 1.0}
    ... )
    >>> by = counts_by_vehicle(lives, unit="years", what="bush", rule="as watched")
    >>> alike = kaplan_meier_by_vehicle(by, confidence=0.9).table["std_err"][0]
    >>> alone = kaplan_meier(by.counts, confidence=0.9).table["std_err"][0]
    >>> round(alike / alone, 2)
    1.41
    """
    curve = kaplan_meier(
        by.counts, confidence=confidence, band=band, early_rule=early_rule, begins_at=begins_at
    )
    at_risk, failures = (curve.table[name].to_numpy() for name in ("at_risk", "failures"))
    left = np.where(at_risk > failures, at_risk - failures, np.inf)
    moved = np.cumsum(surprises(by, curve.table) / left, axis=1)
    relative = np.sqrt(summed_squares(by, moved))
    survival = curve.table["survival"].to_numpy()
    lower, upper = survival_limits(survival, relative, confidence=confidence, band=band)
    std_err = np.where(survival > 0, survival * relative, np.nan)
    table = curve.table.with_columns(std_err=std_err, lower=lower, upper=upper)
    return SurvivalCurve(
        table.with_columns(pl.col("std_err", "lower", "upper").fill_nan(None)),
        by.counts,
        confidence,
        band,
        early_rule,
        curve.begins_at,
        curve.note,
    )


def nelson_aalen_by_vehicle(
    by: VehicleCounts,
    *,
    confidence: float,
    early_rule: str = "after a collapse",
    begins_at: float | None = None,
) -> HazardCurve:
    """Nelson-Aalen with standard errors by vehicle (Therneau & Grambsch 2000).

    Takes, gives and refuses what `nelson_aalen` does.

    >>> from wornby.curves.vehicles import counts_by_vehicle
    >>> lives = pl.DataFrame(
    ...     {"vehicle": ["a", "a", "b"], "entry": 0.0, "lower": [4.0, 4.0, 6.0], "count": 1.0}
    ... ).with_columns(upper="lower")
    >>> by = counts_by_vehicle(lives, unit="years", what="bush", rule="as watched")
    >>> nelson_aalen_by_vehicle(by, confidence=0.9).table["std_err"].round(3).to_list()
    [0.314, 0.314]
    """
    curve = nelson_aalen(
        by.counts, confidence=confidence, early_rule=early_rule, begins_at=begins_at
    )
    moved = np.cumsum(surprises(by, curve.table) / curve.table["at_risk"].to_numpy(), axis=1)
    std_err = np.sqrt(summed_squares(by, moved))
    hazard = curve.table["cumulative_hazard"].to_numpy()
    lower, upper = hazard_limits(hazard, std_err, confidence=confidence)
    table = curve.table.with_columns(std_err=std_err, lower=lower, upper=upper)
    return HazardCurve(table, by.counts, confidence, early_rule, curve.begins_at, curve.note)


def turnbull_band(
    by: VehicleCounts, ages: ArrayLike, *, rng: np.random.Generator, n: int, confidence: float
) -> pl.DataFrame:
    """Survival at each age with percentile limits of `n` resamples: age, survival, lower, upper.

    The curve converges at the cube root of the number of lives where failures are seen by
    inspection only, and there percentile limits are known to be somewhat too narrow (Sen, Banerjee
    & Woodroofe 2010). ValueError: no resamples asked for. EstimateError as `turnbull`.

    >>> from wornby.curves.vehicles import counts_by_vehicle
    >>> lives = pl.DataFrame(
    ...     {"vehicle": list("abcd"), "entry": 0.0, "lower": [0.0, 2.0, 3.0, 5.0], "count": 1.0}
    ... ).with_columns(upper=pl.col("lower") + 2)
    >>> by = counts_by_vehicle(lives, unit="years", what="bush", rule="as watched")
    >>> turnbull_band(by, [2.5], rng=np.random.default_rng(1), n=20, confidence=0.9).row(0)
    (2.5, 0.75, 0.5, 1.0)
    """
    check_confidence(confidence)
    if n < 1:
        raise ValueError(f"{n} resamples: wanted at least one")
    at = np.atleast_1d(np.asarray(ages, dtype=np.float64))
    if not np.isfinite(at).all():
        raise ValueError("an age that is not a finite number")
    curves = np.empty((n, at.size))
    for i, weight in enumerate(by.resampled(rng, n)):
        table = by.counts.table.with_columns(count=weight).filter(pl.col("count") > 0)
        again = Counts(table, by.counts.unit, by.counts.what, by.counts.rule)
        curves[i] = turnbull(again).survival(at)
    tail = (1 - confidence) / 2
    lower, upper = np.quantile(curves, [tail, 1 - tail], axis=0)
    survival = turnbull(by.counts).survival(at)
    return pl.DataFrame({"age": at, "survival": survival, "lower": lower, "upper": upper})
