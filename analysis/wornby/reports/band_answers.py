"""Answers on bands: the share failed by an age, its limits by part and by vehicle."""

from typing import Any

import polars as pl

from wornby.curves.components import ComponentCurve
from wornby.curves.endings_by_age import one_less
from wornby.curves.nonparametric import kaplan_meier
from wornby.curves.reach import youngest_entry
from wornby.curves.robust_bands import kaplan_meier_by_vehicle
from wornby.errors import EstimateError
from wornby.progress import each
from wornby.reports.amounts import PER_CENT, amount, percent
from wornby.reports.answer import Answer
from wornby.reports.medians_in_the_book import book_ages, book_ages_sentence, watched_from
from wornby.reports.uncertainty_answers import limits_text, untold, vehicles_of, width_ratio
from wornby.reports.workshop import NO_ORIGINALS, Workshop


def band_answer(workshop: Workshop) -> Answer:
    """The share failed by an age from Kaplan-Meier, its band by Greenwood and by vehicle."""
    if not workshop.original:
        raise EstimateError(f"no original part was watched for any time. {NO_ORIGINALS}")
    ages = book_ages(workshop)
    told = [
        _band_row(workshop, curve, ages[curve.counts.unit], workshop.confidence)
        for curve in each(list(workshop.original.values()), "bands")
    ]
    firsts = {(typed["first_watched"], typed["unit"]) for _, typed in told}
    return Answer(
        "Share failed by an age, with bands by part and by vehicle",
        pl.DataFrame([people for people, _ in told]),
        pl.DataFrame([typed for _, typed in told], infer_schema_length=None),
        (
            book_ages_sentence(ages),
            "One less Kaplan-Meier of the rule's failures, on the day each was found; other "
            f"renewals count as withdrawn. {watched_from(firsts)} Limits are two-sided, at "
            f"{workshop.confidence:.0%}, on the log-log scale. Greenwood's band takes every part "
            "by itself; the one by vehicle (infinitesimal jackknife) lets the parts of one vehicle "
            "be alike, and parts from it where they are.",
        ),
    )


def _band_row(
    workshop: Workshop, curve: ComponentCurve, age: float, confidence: float
) -> tuple[dict[str, str], dict[str, Any]]:
    by = vehicles_of(workshop, curve)
    plain = kaplan_meier(by.counts, confidence=confidence)
    robust = kaplan_meier_by_vehicle(by, confidence=confidence)
    at_risk, unit = float(plain.at_risk(age)[0]), by.counts.unit
    note = "" if at_risk > 0 else f"nobody watched at {age:g} {unit}"
    if plain.begins_at:
        note = "; ".join(one for one in (note, plain.note) if one)
    bands = {"greenwood": plain, "by_vehicle": robust}
    shares = {
        name: one_less(band, age) if at_risk > 0 else untold(note, confidence)
        for name, band in bands.items()
    }
    ratio = width_ratio(shares["by_vehicle"], shares["greenwood"])
    first = shares["greenwood"]
    typed: dict[str, Any] = {"component": curve.component, "age": age, "unit": unit}
    typed |= {"first_watched": youngest_entry(by.counts), "lives": by.counts.n_lives}
    typed |= {"vehicles": by.n_vehicles, "at_risk": at_risk}
    typed |= {"share_failed": first.value}
    for name, share in shares.items():
        typed |= {f"{name}_lower": share.lower, f"{name}_upper": share.upper}
    people = {
        "component": curve.component,
        "by": f"{amount(age, unit)} {unit}",
        "parts of vehicles": f"{by.counts.n_lives:.0f} of {by.n_vehicles}",
        "still watched then": f"{at_risk:.0f}",
        "share failed": note if first.value is None else percent(first.value),
        "Greenwood": limits_text(first, "share"),
        "by vehicle": limits_text(shares["by_vehicle"], "share"),
        "wider by": "" if ratio is None else f"{round(100 * (ratio - 1)):+d}{PER_CENT}",
    }
    return people, typed | {"width_ratio": ratio, "confidence": confidence, "note": note}
