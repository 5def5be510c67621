"""Parts and jobs to come: the failures expected, and what comes besides them."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy import stats

from wornby.decisions.expected import ExpectedFailures, counted
from wornby.decisions.stock import negative_binomial_demand
from wornby.errors import EstimateError
from wornby.histories.counts import DAYS_PER_YEAR
from wornby.records.reading import Records

FOR_CAUSE = ("failure", "degraded finding")
HALF = 0.5
"""Jeffreys' prior, for a rate of arrivals and for a share alike."""


@dataclass(frozen=True, slots=True)
class PastRenewals:
    """Parts of one component fitted in the last years, on how many visits, and by which grade.

    `besides` of them no forecast of the book's failures foresees: fitted as a precaution or for
    no stated reason, or on the first visit of a new customer.
    """

    parts: int
    visits: int
    besides: int
    years: float
    by_grade: Mapping[str, int]


def past_renewals(records: Records, component: str, *, years: int) -> PastRenewals:
    """What was fitted of a component in so many years before the close, or since records began."""
    close = records.catalogue.records_until
    begun = records.visits["date"].min()
    if begun is None:
        raise EstimateError(f"{component}: no visit, so nothing is known of past demand")
    covered = records.visits.select(
        (pl.lit(close) - pl.col("date").min()).dt.total_days() / DAYS_PER_YEAR
    ).item()
    first = records.visits.group_by("vehicle").agg(first=pl.col("date").min())
    since = pl.lit(close).dt.offset_by(f"-{years}y")
    fitted = records.sightings.filter(
        (pl.col("component") == component)
        & (pl.col("seen") == "renewed")
        & (pl.col("date") > since)
    ).join(first, on="vehicle", how="left")
    foreseen = pl.col("reason").is_in(FOR_CAUSE) & (pl.col("date") > pl.col("first"))
    grades = fitted.filter(pl.col("grade") != "unknown").group_by("grade").len()
    return PastRenewals(
        parts=fitted.height,
        visits=fitted.select("vehicle", "date").n_unique(),
        besides=fitted.filter(~foreseen).height,
        years=min(float(years), max(covered, 1 / 12)),
        by_grade=dict(sorted(grades.iter_rows())),
    )


def parts_to_fit(
    failures: ExpectedFailures, past: PastRenewals, *, horizon_years: float
) -> ExpectedFailures:
    """Failures from the book and the renewals besides, which go on at the rate of the last years.

    Their rate is a gamma by Jeffreys' prior, so their count is negative binomial.
    """
    size = past.besides + HALF
    besides = negative_binomial_demand(size / past.years * horizon_years, size=size)
    chances = _cut(np.convolve(failures.chances, _cut(besides)))
    return counted(chances, n_parts=failures.n_parts, confidence=failures.confidence)


def share_of(
    whole: ExpectedFailures, *, taken: int, others: int, ways: int = 2
) -> ExpectedFailures:
    """The part of a count to come that goes one way, as `taken` of `taken + others` did before.

    The shares of all `ways` are Dirichlet by Jeffreys' prior, so that they add up to the whole;
    each is a beta, and its count beta-binomial given the whole. The only way takes all.

    >>> ten = counted(np.eye(11)[10], n_parts=10, confidence=0.9)
    >>> round(share_of(ten, taken=30, others=10).mean, 2)
    7.44
    """
    if ways == 1:
        return whole
    n = np.arange(len(whole.chances))
    law = stats.betabinom(n[:, None], taken + HALF, others + HALF * (ways - 1))
    chances = whole.chances @ np.nan_to_num(law.pmf(n[None, :]))
    return counted(_cut(chances), n_parts=whole.n_parts, confidence=whole.confidence)


def evenly_within(whole: ExpectedFailures, *, time_share: float) -> ExpectedFailures:
    """What of a count to come falls into this share of its time, each spread evenly over all.

    >>> year = counted(np.eye(11)[10], n_parts=10, confidence=0.9)
    >>> round(evenly_within(year, time_share=0.1).mean, 2)
    1.0
    """
    if not 0 < time_share <= 1:
        raise ValueError(f"demand: time_share is {time_share}, wanted above 0, at most 1")
    n = np.arange(len(whole.chances))
    chances = whole.chances @ stats.binom.pmf(n[None, :], n[:, None], time_share)
    return counted(_cut(chances), n_parts=whole.n_parts, confidence=whole.confidence)


def jobs_to_come(parts: ExpectedFailures, past: PastRenewals) -> ExpectedFailures:
    """Visits that fit these parts: where two go in on one visit, they are one job."""
    if past.visits == past.parts:
        return parts
    return share_of(parts, taken=past.visits, others=past.parts - past.visits)


def _cut(chances: NDArray[np.float64]) -> NDArray[np.float64]:
    """The chances without a tail that is below the rounding error, adding up to one."""
    kept = int(np.searchsorted(np.cumsum(chances), (1 - 1e-12) * chances.sum())) + 1
    return np.asarray(chances[:kept] / chances[:kept].sum())
