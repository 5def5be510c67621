"""Answers on distance: how far vehicles go in a year, and what unread distances leave open."""

from typing import Any

import polars as pl

from wornby.curves.odometer_doubt import DistanceDoubt, distance_doubt
from wornby.errors import EstimateError
from wornby.histories.pace import annual_distance, fleet_pace
from wornby.progress import each
from wornby.reports.amounts import amount, between, percent, with_unit
from wornby.reports.answer import Answer
from wornby.reports.workshop import Workshop

N_DRAWS = 20
SHARE = 0.10
MOST_ROWS = 15
BOUNDS = ("value", "lower", "upper")


def distance_doubt_answer(workshop: Workshop) -> Answer:
    """B10 lives of parts that wear by distance, and how much of the doubt is the odometer's."""
    by_distance = [c for c in workshop.original.values() if not c.by_age]
    if not by_distance:
        raise EstimateError("no component with scale = 'distance' was watched: none to doubt")
    rows: list[dict[str, Any]] = []
    people = []
    for curve in each(by_distance, "odometers"):
        try:
            doubt = _doubt(workshop, curve.component)
        except EstimateError as error:
            rows.append({"component": curve.component, "note": str(error)})
            people.append({"component": curve.component, "note": "too few failures to fit a curve"})
            continue
        rows.append(_typed(curve.component, doubt))
        people.append(_told(curve.component, doubt))
    return Answer(
        "What unread distances add to the doubt about B10 lives",
        pl.DataFrame(people, infer_schema_length=None),
        pl.DataFrame(rows, infer_schema_length=None),
        _notes(workshop),
    )


def _doubt(workshop: Workshop, component: str) -> DistanceDoubt:
    lives = workshop.episodes.table.filter(component=component, origin="original")
    return distance_doubt(
        lives,
        workshop.histories.readings,
        unit=workshop.catalogue.distances_in,
        share=SHARE,
        what=f"{component} (original)",
        rule=workshop.episodes.rule.sentence(),
        n_draws=N_DRAWS,
        confidence=workshop.confidence,
        rng=workshop.rng(f"unread distances of {component}"),
    )


def _typed(component: str, doubt: DistanceDoubt) -> dict[str, Any]:
    return {
        "component": component,
        "unit": doubt.fixed.unit,
        "not_read_share": doubt.not_read,
        **{f"b10_fixed_{part}": getattr(doubt.fixed, part) for part in BOUNDS},
        **{f"b10_uncertain_{part}": getattr(doubt.uncertain, part) for part in BOUNDS},
        "log_variance_within": doubt.logs.within,
        "log_variance_between": doubt.logs.between,
        "doubt_share": doubt.logs.share,
        "confidence": doubt.fixed.confidence,
        "note": doubt.fixed.note,
    }


def _told(component: str, doubt: DistanceDoubt) -> dict[str, str]:
    return {
        "component": component,
        "entries and exits not read": percent(doubt.not_read),
        "B10 life, distances taken as known": with_unit(doubt.fixed),
        "with unread distances in doubt": with_unit(doubt.uncertain),
        "share of the variance": percent(doubt.logs.share),
        "note": doubt.fixed.note,
    }


def _notes(workshop: Workshop) -> tuple[str, ...]:
    fleet = fleet_pace(workshop.histories.readings)
    uneven = (
        "Readings are too few to say how unevenly a vehicle is driven: no doubt was added."
        if not fleet.within
        else f"From one year to another a vehicle's distance varies by {percent(fleet.within**0.5)}"
        " around its own pace, as its readings tell."
    )
    return (
        f"{N_DRAWS} completed histories are drawn, each passing through every reading; a curve is "
        "fitted to each and they are combined by Rubin's rules (1987). Intervals are Wald's on the "
        f"logarithm, at {workshop.confidence:.0%}, so that both columns compare.",
        uneven,
    )


def pace_answer(workshop: Workshop) -> Answer:
    """How far each vehicle goes in a year, those most drawn towards the fleet's pace first."""
    catalogue = workshop.catalogue
    unit = catalogue.distances_in
    paces = pl.col("own_pace", "pooled_pace", "lower", "upper")
    frame = annual_distance(
        workshop.histories.readings, confidence=workshop.confidence
    ).with_columns(paces * catalogue.per_mile, distance_unit=pl.lit(unit))
    told = frame.sort("pull", "vehicle", descending=[True, False]).head(MOST_ROWS)
    people = [
        {
            "vehicle": row["vehicle"],
            "readings": str(row["readings"]),
            "over": f"{row['span_years']:.1f} years",
            "own pace": "" if row["own_pace"] is None else amount(row["own_pace"], unit),
            f"pooled pace, {unit} a year": _pooled(row),
            "drawn to the fleet's": percent(row["pull"]),
        }
        for row in told.to_dicts()
    ]
    drawn = frame.filter(pl.col("pull") >= 0.1).height
    return Answer(
        "Annual distance, those least sure first",
        pl.DataFrame(people),
        told,
        (
            f"{frame.height:,} vehicles; {drawn:,} of them owe a tenth or more of their pace to "
            "the fleet's (empirical Bayes on the logarithm of distance a year since new). The "
            f"pooled pace, with its central range of {workshop.confidence:.0%}, carries distances "
            "on beyond the last reading, for a year and a half at most.",
        ),
    )


def _pooled(row: dict[str, Any]) -> str:
    unit = row["distance_unit"]
    if row["pooled_pace"] is None:
        return "unknown"
    middle = amount(row["pooled_pace"], unit)
    if row["lower"] is None:
        return middle
    return f"{middle} ({between(row['lower'], row['upper'], unit)})"
