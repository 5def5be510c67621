"""Answers on doubt: each interval by several methods, so that one sees where they part."""

from dataclasses import dataclass
from typing import Any

import polars as pl

from wornby.curves.bootstrap import WeibullBootstrap, weibull_bootstrap
from wornby.curves.components import ComponentCurve
from wornby.curves.profile import b_life, chance_within
from wornby.curves.uncertainty import Estimate
from wornby.curves.vehicles import VehicleCounts, episodes_by_vehicle
from wornby.errors import EstimateError
from wornby.progress import each
from wornby.reports.amounts import PER_CENT, amount, between, joined, marked, percent
from wornby.reports.answer import Answer
from wornby.reports.life_answers import b10_life, chance_next, life_answer
from wornby.reports.workshop import Workshop, pace_of
from wornby.reports.yearly_pace import Pace

N_RESAMPLES = 1000
ASKED = {"b10": "B10 life", "chance_12_months": "chance of failing in 12 months"}
APART = 0.15
"""Ends that lie apart by less of the profile's half-width are alike: resampling's own chance moves
them by about a twentieth."""


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
            f"of one vehicle be alike. All are two-sided, at {workshop.confidence:.0%}.",
            "Where they part: ends against the profile's, in parts of its half-width; alike where "
            f"both lie within {percent(APART)}. Nothing is said where an end is not known.",
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
        wald, drawn = (untold(profile.note, confidence) for _ in range(2))
        if profile.lower is not None:
            wald = _by_wald(curve, asked, age=at, horizon=horizon, confidence=confidence)
            drawn = _by_resampling(resampled, asked, age=at, horizon=horizon, confidence=confidence)
        told.append(Doubt(curve.component, asked, profile, wald, drawn))
    return told


def untold(why: str, confidence: float) -> Estimate:
    """An estimate that cannot be told, for a reason."""
    return Estimate(None, None, None, confidence, "", why)


def _by_wald(
    curve: ComponentCurve, asked: str, *, age: float, horizon: float, confidence: float
) -> Estimate:
    if curve.weibull is None:
        return untold("too few failed to fit a curve", confidence)
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
            vehicles_of(workshop, curve),
            rng=workshop.rng(f"resampled {curve.component}"),
            n=N_RESAMPLES,
        )
    except EstimateError as refused:
        return str(refused)


def vehicles_of(workshop: Workshop, curve: ComponentCurve) -> VehicleCounts:
    """The lives behind a curve, vehicle by vehicle."""
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
        return untold(resampled, confidence)
    if asked == "b10":
        return resampled.b_life(0.10, confidence=confidence)
    return resampled.chance_within(age=age, horizon=horizon, confidence=confidence)


def _typed_doubt(one: Doubt) -> dict[str, Any]:
    told: dict[str, Any] = {"component": one.component, "asked": one.asked}
    told |= {"unit": one.profile.unit, "value": one.profile.value}
    for method in ("profile", "wald", "bootstrap"):
        estimate = getattr(one, method)
        told |= {f"{method}_{end}": getattr(estimate, end) for end in ("lower", "upper")}
    for method in ("wald", "bootstrap"):
        off = _ends_off(getattr(one, method), one.profile) or (None, None)
        told |= {f"{method}_lower_off": off[0], f"{method}_upper_off": off[1]}
    return told | {
        "bootstrap_width_ratio": width_ratio(one.bootstrap, one.profile),
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
        "profile": limits_text(profile, profile.unit),
        "Wald": limits_text(one.wald, profile.unit),
        "resampled vehicles": limits_text(one.bootstrap, profile.unit),
        "where they part": _parting(one),
    }


def limits_text(one: Estimate, unit: str) -> str:
    """The ends of an interval, or why there are none."""
    if one.lower is None or one.upper is None:
        return one.note or "out of reach"
    return between(one.lower, one.upper, unit)


def width_ratio(one: Estimate, other: Estimate) -> float | None:
    """How many times as wide the first interval is, where both have two ends."""
    ends = (one.lower, one.upper, other.lower, other.upper)
    low, high, other_low, other_high = (float("inf") if end is None else end for end in ends)
    if high - low < float("inf") and 0 < other_high - other_low < float("inf"):
        return (high - low) / (other_high - other_low)
    return None


def _ends_off(other: Estimate, profile: Estimate) -> tuple[float, float] | None:
    """How far each end lies from the profile's, in its half-widths; None where one is unknown."""
    if not profile.lower or profile.upper is None or width_ratio(other, profile) is None:
        return None
    low, high = float(other.lower or 0.0), float(other.upper or 0.0)
    half = (profile.upper - profile.lower) / 2
    return (low - profile.lower) / half, (high - profile.upper) / half


def _parting(one: Doubt) -> str:
    """Which ends lie apart from the profile's, and by how much of its half-width."""
    told, known = [], True
    if one.profile.lower == 0 and one.profile.value is not None:
        return "the profile has no lower limit"
    for name, other in (("Wald", one.wald), ("resampled", one.bootstrap)):
        off = _ends_off(other, one.profile)
        known = known and off is not None
        apart = [
            f"{end} end {100 * by:+.0f}{PER_CENT}"
            for end, by in zip(("lower", "upper"), off or (), strict=False)
            if abs(by) > APART
        ]
        if apart:
            told.append(f"{name}: {', '.join(apart)}")
    return "; ".join(told) or ("alike" if known else "")
