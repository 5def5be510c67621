"""Answers on demand: what failures to expect from the vehicles in the book."""

import numpy as np
import polars as pl

from wornby.decisions.book import parts_in_the_book, return_chances
from wornby.decisions.expected import ExpectedFailures, combined, expected_failures
from wornby.decisions.unknown_ages import with_ages
from wornby.errors import EstimateError
from wornby.histories.recurring import failures_by_year
from wornby.records.catalogue import Component
from wornby.reports.amounts import percent
from wornby.reports.answer import ALL, Answer
from wornby.reports.workshop import NO_ORIGINALS, Workshop, life_in_years, pace_of

YEARS_BACK = 3


COLUMNS = (
    "component", "parts", "expected_failures", "lower", "upper", "confidence", "note",
)  # fmt: skip


def expected_answer(workshop: Workshop) -> Answer:
    """Failures to expect in the next 12 months from the vehicles in the book."""
    parts = _with_return_chances(workshop)
    before = failures_by_year(workshop.records, workshop.histories, years=YEARS_BACK)
    told, unknown = _forecasts(workshop, parts)
    if not told:
        raise EstimateError(f"no component has a curve, so nothing can be expected. {NO_ORIGINALS}")
    told = dict(sorted(told.items(), key=lambda item: -item[1].mean))
    before[ALL] = [sum(years) for years in zip(*before.values(), strict=True)]
    told[ALL] = combined(list(told.values()))
    rows: list[tuple[object, ...]] = [
        (name, t.n_parts, t.mean, t.lower, t.upper, t.confidence, "") for name, t in told.items()
    ]
    rows += [(name, None, None, None, None, None, why) for name, why in unknown.items()]
    people = [
        {
            "component": name,
            "next 12 months": f"{t.mean:.0f} ({t.lower} to {t.upper})",
            f"each of the last {YEARS_BACK} years": ", ".join(map(str, before[name])),
            "parts in the book": f"{t.n_parts:,}",
        }
        for name, t in told.items()
    ]
    notes = tuple(f"Not known: {why}." for why in unknown.values())
    return Answer(
        "Failures to expect in the next 12 months",
        pl.DataFrame(people),
        pl.DataFrame(rows, schema=COLUMNS, orient="row", infer_schema_length=None),
        (*_expected_notes(workshop, parts), *notes),
    )


def _forecasts(
    workshop: Workshop, parts: pl.DataFrame
) -> tuple[dict[str, ExpectedFailures], dict[str, str]]:
    """Each component's forecast, or why there is none."""
    told, unknown = {}, {}
    for component in workshop.catalogue.components.values():
        try:
            told[component.name] = _expected(workshop, component, parts)
        except EstimateError as error:
            unknown[component.name] = str(error)
    return told, unknown


def _expected_notes(workshop: Workshop, parts: pl.DataFrame) -> tuple[str, ...]:
    returns = parts.unique("vehicle")["return_chance"].mean()
    unknown = parts.filter(pl.col("age_years").is_null()).height
    return (
        f"A failure is counted where the part has {workshop.episodes.rule.failed}. The forecast "
        "is for vehicles in the book now, one failure a part; new customers and second failures "
        "come on top, and are in the counts of past years.",
        f"{percent(float(returns or 0.0))} of vehicles in the book come back, judged by those of "  # type: ignore[arg-type]  # a mean of floats
        "former years by how long they had stayed away. Of "
        f"{parts.height:,} parts {unknown:,} are of unknown age: whether they were renewed before "
        "the first visit, and when, is drawn from the original's curve.",
    )


def _with_return_chances(workshop: Workshop) -> pl.DataFrame:
    parts = parts_in_the_book(workshop.records, workshop.histories)
    if parts.is_empty():
        months = workshop.catalogue.book_months
        raise EstimateError(f"no vehicle came in the last {months} months of the records")
    return parts.join(return_chances(workshop.records), on="vehicle", how="left")


def _expected(workshop: Workshop, component: Component, parts: pl.DataFrame) -> ExpectedFailures:
    """One component's failures, original parts and each grade of renewed on their own curve.

    Miles count as years at the median vehicle's pace, so that a year ahead is more than one for
    a vehicle that goes farther.
    """
    pace = pace_of(workshop)
    ours = _aged(workshop, component, parts.filter(component=component.name), pace)
    if ours.is_empty():
        raise EstimateError(f"{component.name}: none in the book")
    return combined(
        [
            expected_failures(
                life_in_years(
                    workshop, component, origin=str(origin), grade=str(grade), miles_per_year=pace
                )[0],
                kind["gone"].to_numpy(),
                horizon_years=kind["ahead"].to_numpy(),
                return_chance=kind["return_chance"].to_numpy(),
                confidence=workshop.confidence,
            )
            for (origin, grade), kind in ours.partition_by("origin", "grade", as_dict=True).items()
        ]
    )


def _aged(
    workshop: Workshop, component: Component, parts: pl.DataFrame, pace: float
) -> pl.DataFrame:
    """The component's parts with an age each, in years at the median pace."""
    by_age = component.scale == "age"
    speed = pl.lit(1.0) if by_age else pl.col("miles_per_year").clip(lower_bound=1.0) / pace
    gone = pl.col("age_years") if by_age else pl.col("distance_mi") / pace
    told = parts.select(
        "origin", "grade", "return_chance", gone=gone, ahead=speed,
        now=pl.col("vehicle_age_years") * speed, first=pl.col("first_seen_years") * speed,
    )  # fmt: skip
    known, unknown = (
        told.filter(pl.col("gone").is_not_null()),
        told.filter(pl.col("gone").is_null()),
    )
    if unknown.is_empty():
        return known
    original, age = with_ages(
        life_in_years(workshop, component, origin="original", grade="", miles_per_year=pace)[0],
        vehicle_now=unknown["now"].to_numpy(),
        vehicle_at_first=unknown["first"].to_numpy(),
        surely_renewed=(unknown["origin"] == "renewed").to_numpy(),
        rng=workshop.rng(f"{component.name} unknown ages"),
    )
    filled = unknown.with_columns(
        gone=pl.Series(age),
        origin=pl.Series(np.where(original, "original", "renewed")),
        grade=pl.Series(np.where(original, "genuine", "unknown")),
    )
    return pl.concat([known, filled])
