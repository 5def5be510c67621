"""Answers on doubt: each interval by several methods, so that one sees where they part."""

from dataclasses import dataclass
from typing import Any

import polars as pl

from wornby.curves.bootstrap import WeibullBootstrap, weibull_bootstrap
from wornby.curves.components import ComponentCurve
from wornby.curves.endings_by_age import one_less
from wornby.curves.nonparametric import kaplan_meier
from wornby.curves.profile import b_life, chance_within
from wornby.curves.robust_bands import kaplan_meier_by_vehicle
from wornby.curves.uncertainty import Estimate
from wornby.curves.vehicles import VehicleCounts, episodes_by_vehicle
from wornby.errors import EstimateError
from wornby.progress import each
from wornby.reports.amounts import PER_CENT, amount, between, joined, marked, percent
from wornby.reports.answer import Answer
from wornby.reports.life_answers import b10_life, chance_next, life_answer
from wornby.reports.medians_in_the_book import book_ages, book_ages_sentence
from wornby.reports.workshop import NO_ORIGINALS, Workshop, pace_of
from wornby.reports.yearly_pace import Pace

N_RESAMPLES = 1000
ASKED = {"b10": "B10 life", "chance_12_months": "chance of failing in 12 months"}
APART = 0.15
"""Intervals whose widths differ by less are alike, resampling's own chance among the reasons."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """One quantity of one component by three methods; a missing one has a note that says why."""

    component: str
    asked: str
    profile: Estimate
    wald: Estimate
    bootstrap: Estimate


def interval_answer(workshop: Workshop) -> Answer:
    """B10 life and chance in the next 12 months, by profile, Wald and resampled vehicles."""
    lives, pace = life_answer(workshop).frame, pace_of(workshop)
    told: list[Doubt] = []
    for component, age in each(lives.select("component", "age_now").rows(), "intervals"):
        told += _doubts(workshop, workshop.original[component], age, pace)
    return Answer(
        "Intervals by three methods",
        pl.DataFrame([_people_doubt(one) for one in told]),
        pl.DataFrame([_typed_doubt(one) for one in told], infer_schema_length=None),
        (
            "Profile: from the likelihood ratio, as everywhere in these answers (credible "
            "intervals where few failed). Wald: symmetric on the logarithmic scale. Resampled: "
            f"the middle of {N_RESAMPLES:,} refits to vehicles drawn again, which lets the parts "
            "of one vehicle be alike.",
            "Wider by resampling: parts of one vehicle are alike, or the curve does not fit. "
            "Narrower: few vehicles had a failure, and resampling sees only those. The chance is "
            "that of the life answer, at the same age.",
        ),
    )


def _doubts(
    workshop: Workshop, curve: ComponentCurve, age: float | None, pace: Pace
) -> list[Doubt]:
    """Both quantities of one component."""
    confidence, at = workshop.confidence, age or 0.0
    horizon = 1.0 if curve.by_age else pace.per_year
    resampled = _resampled(workshop, curve)
    profiles = {
        "b10": b10_life(curve, confidence=confidence),
        "chance_12_months": chance_next(curve, age=age, horizon=horizon, confidence=confidence),
    }
    told = []
    for asked, profile in profiles.items():
        wald, drawn = (_untold(profile.note, confidence) for _ in range(2))
        if profile.lower is not None:
            wald = _by_wald(curve, asked, age=at, horizon=horizon, confidence=confidence)
            drawn = _by_resampling(resampled, asked, age=at, horizon=horizon, confidence=confidence)
        told.append(Doubt(curve.component, asked, profile, wald, drawn))
    return told


def _untold(why: str, confidence: float) -> Estimate:
    return Estimate(None, None, None, confidence, "", why)


def _by_wald(
    curve: ComponentCurve, asked: str, *, age: float, horizon: float, confidence: float
) -> Estimate:
    if curve.weibull is None:
        return _untold("too few failed to fit a curve", confidence)
    if asked == "b10":
        return b_life(curve.weibull, 0.10, confidence=confidence, method="wald")
    return chance_within(
        curve.weibull, age=age, horizon=horizon, confidence=confidence, method="wald"
    )


def _resampled(workshop: Workshop, curve: ComponentCurve) -> WeibullBootstrap | str:
    """Refits to vehicles drawn again, or why there are none."""
    _, lower, upper, _ = curve.counts.columns()
    if ((upper > lower) & (upper < float("inf"))).any():
        return "not for failures known within bounds"
    try:
        return weibull_bootstrap(
            _vehicles(workshop, curve),
            rng=workshop.rng(f"resampled {curve.component}"),
            n=N_RESAMPLES,
        )
    except EstimateError as refused:
        return str(refused)


def _vehicles(workshop: Workshop, curve: ComponentCurve) -> VehicleCounts:
    own = workshop.episodes.table.filter(
        (pl.col("component") == curve.component) & (pl.col("origin") == curve.origin)
    )
    rule = workshop.episodes.rule.sentence()
    return episodes_by_vehicle(own, unit=curve.counts.unit, what=curve.component, rule=rule)


def _by_resampling(
    resampled: WeibullBootstrap | str,
    asked: str,
    *,
    age: float,
    horizon: float,
    confidence: float,
) -> Estimate:
    if isinstance(resampled, str):
        return _untold(resampled, confidence)
    if asked == "b10":
        return resampled.b_life(0.10, confidence=confidence)
    return resampled.chance_within(age=age, horizon=horizon, confidence=confidence)


def _typed_doubt(one: Doubt) -> dict[str, Any]:
    told: dict[str, Any] = {"component": one.component, "asked": one.asked}
    told |= {"unit": one.profile.unit, "value": one.profile.value}
    for method in ("profile", "wald", "bootstrap"):
        estimate = getattr(one, method)
        told |= {f"{method}_{end}": getattr(estimate, end) for end in ("lower", "upper")}
    return told | {
        "bootstrap_width_ratio": _width_ratio(one.bootstrap, one.profile),
        "confidence": one.profile.confidence,
        "note": joined(one.profile.note, one.wald.note, one.bootstrap.note),
    }


def _people_doubt(one: Doubt) -> dict[str, str]:
    profile = one.profile
    unit = "" if profile.unit == "chance" else f" {profile.unit}"
    value = "" if profile.value is None else f"{amount(profile.value, profile.unit)}{unit}"
    return {
        "component": one.component,
        "asked": ASKED[one.asked],
        "estimate": marked(value or "a bound only", profile.note),
        "profile": _limits(profile, profile.unit),
        "Wald": _limits(one.wald, profile.unit),
        "resampled vehicles": _limits(one.bootstrap, profile.unit),
        "where they part": _parting(one),
    }


def _limits(one: Estimate, unit: str) -> str:
    if one.lower is None or one.upper is None:
        return one.note or "out of reach"
    return between(one.lower, one.upper, unit)


def _width_ratio(one: Estimate, other: Estimate) -> float | None:
    """How many times as wide the first interval is, where both have two ends."""
    ends = (one.lower, one.upper, other.lower, other.upper)
    low, high, other_low, other_high = (float("inf") if end is None else end for end in ends)
    if high - low < float("inf") and 0 < other_high - other_low < float("inf"):
        return (high - low) / (other_high - other_low)
    return None


def _parting(one: Doubt) -> str:
    told, ratios = [], []
    for name, other in (("Wald", one.wald), ("resampled", one.bootstrap)):
        ratio = _width_ratio(other, one.profile)
        ratios.append(ratio)
        if ratio is not None and abs(ratio - 1) > APART:
            way = "wider" if ratio > 1 else "narrower"
            told.append(f"{name} {percent(abs(ratio - 1))} {way}")
    return "; ".join(told) or ("" if None in ratios else "alike")


def band_answer(workshop: Workshop) -> Answer:
    """The share failed by an age from Kaplan-Meier, its band by Greenwood and by vehicle."""
    if not workshop.original:
        raise EstimateError(f"no original part was watched for any time. {NO_ORIGINALS}")
    ages = book_ages(workshop)
    told = [
        _band_row(workshop, curve, ages[curve.counts.unit], workshop.confidence)
        for curve in each(list(workshop.original.values()), "bands")
    ]
    return Answer(
        "Share failed by an age, with bands by part and by vehicle",
        pl.DataFrame([people for people, _ in told]),
        pl.DataFrame([typed for _, typed in told], infer_schema_length=None),
        (
            book_ages_sentence(ages),
            "One less Kaplan-Meier of the rule's failures, on the day each was found; other "
            "renewals count as withdrawn. Greenwood's band takes every part by itself; the one by "
            "vehicle (infinitesimal jackknife) lets the parts of one vehicle be alike, and parts "
            "from it where they are.",
        ),
    )


def _band_row(
    workshop: Workshop, curve: ComponentCurve, age: float, confidence: float
) -> tuple[dict[str, str], dict[str, Any]]:
    by = _vehicles(workshop, curve)
    plain = kaplan_meier(by.counts, confidence=confidence)
    robust = kaplan_meier_by_vehicle(by, confidence=confidence)
    at_risk, unit = float(plain.at_risk(age)[0]), by.counts.unit
    note = "" if at_risk > 0 else f"nobody watched at {age:g} {unit}"
    if plain.begins_at:
        note = "; ".join(one for one in (note, plain.note) if one)
    bands = {"greenwood": plain, "by_vehicle": robust}
    shares = {
        name: one_less(band, age) if at_risk > 0 else _untold(note, confidence)
        for name, band in bands.items()
    }
    ratio = _width_ratio(shares["by_vehicle"], shares["greenwood"])
    first = shares["greenwood"]
    typed: dict[str, Any] = {"component": curve.component, "age": age, "unit": unit}
    typed |= {"lives": by.counts.n_lives, "vehicles": by.n_vehicles, "at_risk": at_risk}
    typed |= {"share_failed": first.value}
    for name, share in shares.items():
        typed |= {f"{name}_lower": share.lower, f"{name}_upper": share.upper}
    people = {
        "component": curve.component,
        "by": f"{amount(age, unit)} {unit}",
        "parts of vehicles": f"{by.counts.n_lives:.0f} of {by.n_vehicles}",
        "still watched then": f"{at_risk:.0f}",
        "share failed": note if first.value is None else percent(first.value),
        "Greenwood": _limits(first, "share"),
        "by vehicle": _limits(shares["by_vehicle"], "share"),
        "wider by": "" if ratio is None else f"{round(100 * (ratio - 1)):+d}{PER_CENT}",
    }
    return people, typed | {"width_ratio": ratio, "confidence": confidence, "note": note}
