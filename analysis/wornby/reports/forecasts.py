"""What the vehicles in the book will need within a horizon, component by component."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.book import MONTHS_AHEAD, parts_in_the_book, return_chances
from wornby.decisions.demand import PastRenewals, jobs_to_come, parts_to_fit, past_renewals
from wornby.decisions.expected import ExpectedFailures, combined, expected_failures
from wornby.decisions.failures_by_month import monthly_counts, monthly_means
from wornby.decisions.renewed_early import early_renewals, gathered_ahead
from wornby.decisions.since_last_visit import given_no_call
from wornby.decisions.unknown_ages import untold_odds, with_ages
from wornby.errors import EstimateError
from wornby.histories.counts import YEARS
from wornby.records.catalogue import Component
from wornby.reports.workshop import Workshop, life_in_years, pace_of
from wornby.reports.yearly_pace import Pace

YEARS_BACK = 3
LAST_VISIT = "last visit"
"""The end of a watch that leaves out the time since."""


@dataclass(frozen=True, eq=False, slots=True)
class Forecast:
    """One component within the horizon: failures from the book, parts to fit, and jobs."""

    failures: ExpectedFailures
    parts: ExpectedFailures
    jobs: ExpectedFailures
    past: PastRenewals


@lru_cache(maxsize=8)
def parts_with_returns(workshop: Workshop, months: int) -> pl.DataFrame:
    """The parts in the book, with the chance that their vehicle comes back in these months."""
    parts = parts_in_the_book(workshop.records, workshop.histories)
    if parts.is_empty():
        book = workshop.catalogue.book_months
        raise EstimateError(f"no vehicle came in the last {book} months of the records")
    chances = return_chances(workshop.records, months_ahead=months)
    return parts.join(chances, on="vehicle", how="left")


def forecast(
    workshop: Workshop, component: Component, *, horizon_years: float, months: int = MONTHS_AHEAD
) -> Forecast:
    """What one component will need; vehicles come back as they do within `months`."""
    failures = _failures(workshop, component, parts_with_returns(workshop, months), horizon_years)
    past = past_renewals(workshop.records, component.name, years=YEARS_BACK)
    parts = parts_to_fit(failures, past, horizon_years=horizon_years)
    return Forecast(failures, parts, jobs_to_come(parts, past), past)


def _failures(
    workshop: Workshop, component: Component, parts: pl.DataFrame, horizon_years: float
) -> ExpectedFailures:
    """One component's failures, original parts and each grade of renewed on their own curve.

    Miles count as years at the median vehicle's pace, so that a year ahead is more than one for
    a vehicle that goes farther.
    """
    pace = pace_of(workshop)
    ours = _aged(workshop, component, parts.filter(component=component.name), pace)
    if ours.is_empty():
        raise EstimateError(f"{component.name}: none in the book")
    kinds = ours.partition_by("origin", "grade", as_dict=True).items()
    return combined(
        [_of_kind(workshop, component, key, kind, horizon_years) for key, kind in kinds]
    )


def _of_kind(
    workshop: Workshop,
    component: Component,
    key: tuple[object, ...],
    kind: pl.DataFrame,
    horizon_years: float,
) -> ExpectedFailures:
    """The failures of parts of one origin and grade, all on one curve."""
    return expected_failures(
        _life_of_kind(workshop, component, key, kind),
        kind["gone"].to_numpy(),
        horizon_years=horizon_years * kind["ahead"].to_numpy(),
        return_chance=kind["return_chance"].to_numpy(),
        renewed_first=_renewed_first(workshop, component, kind, horizon_years),
        guessed=kind["drawn"].to_numpy(),
        confidence=workshop.confidence,
    )


def _life_of_kind(
    workshop: Workshop, component: Component, key: tuple[object, ...], kind: pl.DataFrame
) -> WeibullDraws:
    """The curve of parts of one origin and grade, nobody having come with them of late."""
    origin, grade = map(str, key)
    life, _ = life_in_years(workshop, component, origin=origin, grade=grade, pace=pace_of(workshop))
    watched = kind.filter(~pl.col("drawn"))
    if workshop.episodes.rule.ends != LAST_VISIT or watched.is_empty():
        return life
    return given_no_call(
        life,
        watched["gone"].to_numpy(),
        since_visit=watched["since"].to_numpy(),
        coming=watched["return_chance"].to_numpy(),
        rng=workshop.rng(f"{component.name} {origin} {grade} since the last visit"),
    )


def _renewed_first(
    workshop: Workshop, component: Component, kind: pl.DataFrame, horizon_years: float
) -> NDArray[np.float64]:
    """The hazard that each part gathers of being renewed before it fails."""
    life = _early_renewals(workshop, component.name)
    ages, ahead = kind["gone"].to_numpy(), horizon_years * kind["ahead"].to_numpy()
    return np.zeros(ages.size) if life is None else gathered_ahead(life, ages, ahead)


@lru_cache(maxsize=64)
def _early_renewals(workshop: Workshop, component: str) -> WeibullDraws | None:
    """How early the component is renewed while it works, in years at the median pace."""
    unit = workshop.catalogue.component_units[component]
    life = early_renewals(
        workshop.episodes.table.filter(component=component),
        unit=unit,
        what=f"{component} (renewed early)",
        rng=workshop.rng(f"{component} renewed early"),
    )
    if life is None or unit == YEARS:
        return life
    return life.on_scale(pace_of(workshop).per_year, YEARS)


def failures_to_come_by_month(workshop: Workshop, *, months: int) -> pl.DataFrame:
    """All components together: month (1 is the first ahead), expected, lower, upper."""
    parts = parts_with_returns(workshop, MONTHS_AHEAD)
    means = [
        monthly_means(
            _life_of_kind(workshop, component, key, kind),
            kind["gone"].to_numpy(),
            months=months,
            years_ahead=kind["ahead"].to_numpy(),
            return_chance=kind["return_chance"].to_numpy(),
            renewed_first=_renewed_first(workshop, component, kind, 1.0),
            guessed=kind["drawn"].to_numpy(),
        )
        for component in workshop.catalogue.components.values()
        for key, kind in _kinds(workshop, component, parts)
    ]
    if not means:
        raise EstimateError("no component has a curve, so nothing can be expected by month")
    return monthly_counts(np.sum(means, axis=0), confidence=workshop.confidence)


def _kinds(
    workshop: Workshop, component: Component, parts: pl.DataFrame
) -> Iterable[tuple[tuple[object, ...], pl.DataFrame]]:
    """The component's parts by origin and grade; none where it has no curve."""
    try:
        ours = _aged(workshop, component, parts.filter(component=component.name), pace_of(workshop))
    except EstimateError:
        return ()
    return ours.partition_by("origin", "grade", as_dict=True).items()


def _aged(
    workshop: Workshop, component: Component, parts: pl.DataFrame, pace: Pace
) -> pl.DataFrame:
    """The component's parts with an age each, in years at the median pace; `drawn` if unknown."""
    by_age = component.scale == "age"
    speed = (
        pl.lit(1.0)
        if by_age
        else pl.col("miles_per_year").clip(lower_bound=1.0) / pace.miles_per_year
    )
    gone = pl.col("age_years") if by_age else pl.col("distance_mi") / pace.miles_per_year
    told = parts.select(
        "origin", "grade", "return_chance", gone=gone, ahead=speed, drawn=gone.is_null(),
        now=pl.col("vehicle_age_years") * speed, first=pl.col("first_seen_years") * speed,
        since=pl.col("since_visit_years") * speed,
    )  # fmt: skip
    known, unknown = told.filter(~pl.col("drawn")), told.filter("drawn")
    if unknown.is_empty():
        return known
    original, age = with_ages(
        _life(workshop, component, "original"),
        renewed_life=_life(workshop, component, "renewed"),
        vehicle_now=unknown["now"].to_numpy(),
        vehicle_at_first=unknown["first"].to_numpy(),
        surely_renewed=(unknown["origin"] == "renewed").to_numpy(),
        rng=workshop.rng(f"{component.name} unknown ages"),
        untold_odds=_untold_odds(workshop),
    )
    filled = unknown.with_columns(
        gone=pl.Series(age),
        origin=pl.Series(np.where(original, "original", "renewed")),
        grade=pl.Series(np.where(original, "genuine", "unknown")),
    )
    return pl.concat([known, filled])


@lru_cache(maxsize=8)
def _untold_odds(workshop: Workshop) -> float:
    """How many times likelier looks leave a renewed part untold than an original."""
    by_age = [c for c in workshop.catalogue.components.values() if c.scale == "age"]
    return untold_odds(
        workshop.histories.fitments,
        {c.name: _life(workshop, c, "original") for c in by_age if c.name in workshop.original},
    )


def _life(workshop: Workshop, component: Component, origin: str) -> WeibullDraws:
    """The life in years of a part of this origin, its grade unknown."""
    pace = pace_of(workshop)
    return life_in_years(workshop, component, origin=origin, grade="unknown", pace=pace)[0]
