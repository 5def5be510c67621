"""Answers on life: by what age each component gives out, and how sure that is."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import polars as pl

from wornby.curves.at_risk import number_at_risk
from wornby.curves.components import ComponentCurve, curve_of
from wornby.curves.parametric import WeibullCurve
from wornby.curves.profile import b_life, chance_within, scale_interval, shape_interval
from wornby.curves.reach import EXTRAPOLATED, youngest_entry
from wornby.curves.uncertainty import Estimate
from wornby.decisions.book import parts_in_the_book
from wornby.errors import EstimateError
from wornby.histories.counts import DISTANCE_STEP_MI, YEARS, count_lives
from wornby.reports.amounts import amount, estimate_text, joined, marked, shape_text, with_unit
from wornby.reports.answer import Answer
from wornby.reports.workshop import NO_ORIGINALS, RENEWAL_GRADE, Workshop, pace_of
from wornby.reports.yearly_pace import Pace

READY = "ages, bounds and entries as the file states them"
FEW_BELOW = 3
"""A B10 life with fewer failures before it leans on the curve's form, not on what was seen."""
BOUNDS = ("value", "lower", "upper")


def life_answer(workshop: Workshop) -> Answer:
    """Each original component's B10 life and its chance of failing in the next 12 months.

    The chance is for a part as old, or as far gone, as the median one of its kind in the book.
    """
    return _lives(workshop, workshop.original, "original", "original")


def renewed_life_answer(workshop: Workshop) -> Answer:
    """The same of renewed genuine parts."""
    curves = workshop.renewed.get(RENEWAL_GRADE, {})
    return _lives(workshop, curves, "renewed", f"renewed {RENEWAL_GRADE}")


def _lives(
    workshop: Workshop, curves: Mapping[str, ComponentCurve], origin: str, what: str
) -> Answer:
    ages, pace = _median_parts(workshop, origin), pace_of(workshop)
    rows, people = [], []
    for curve in curves.values():
        age = ages.get((curve.component, curve.counts.unit))
        b10 = b10_life(curve, confidence=workshop.confidence)
        chance = chance_next(
            curve,
            age=age,
            horizon=1.0 if curve.by_age else pace.per_year,
            confidence=workshop.confidence,
        )
        rows.append(_typed_life(curve, b10, chance, age))
        people.append(_people_life(curve, b10, chance, age))
    if not rows:
        raise EstimateError(
            f"no {origin} part was watched for any time; `wornby read` says what was set aside. "
            f"{NO_ORIGINALS}"
        )
    return Answer(
        f"Life of {what} parts",
        pl.DataFrame(people, infer_schema_length=None),
        pl.DataFrame(rows, infer_schema_length=None),
        _life_notes(workshop, pace),
    )


def weibull_answer(workshop: Workshop) -> Answer:
    """Shape and scale of each fitted curve, with profile-likelihood intervals."""
    told = [
        _fitted_row(curve, curve.weibull, workshop.confidence)
        for curve in workshop.original.values()
        if curve.weibull is not None
    ]
    unit = workshop.catalogue.distances_in
    step = DISTANCE_STEP_MI * workshop.catalogue.per_mile
    return Answer(
        "Weibull curves of original parts",
        pl.DataFrame([people for people, _ in told]),
        pl.DataFrame([typed for _, typed in told]),
        (
            "Maximum likelihood with delayed entry and right censoring, on counts: ages by the "
            f"day, distances in steps of {amount(step, unit)} {unit}.",
            f"Intervals: {workshop.confidence:.0%} profile likelihood, two-sided, every part by "
            "itself; where the likelihood sets no end, it is said so.",
            "Nobody was watched before “first watched at”: the records say how many fail after "
            "it, and only the curve's form how many fail before. At risk at B10: how many were "
            "watched when they reached that age.",
        ),
    )


def _fitted_row(
    curve: ComponentCurve, fitted: WeibullCurve, confidence: float
) -> tuple[dict[str, str], dict[str, Any]]:
    """A curve's row for people and for programs."""
    counts, b10 = curve.counts, fitted.b_life(0.10)
    shape = shape_interval(fitted, confidence=confidence)
    scale = scale_interval(fitted, confidence=confidence)
    first, at_risk = youngest_entry(counts), float(number_at_risk(counts, np.array([b10]))[0])
    people = {
        "component": curve.component,
        "failed": f"{counts.n_failures:.0f}",
        "shape (interval)": shape_text(shape),
        "scale (interval)": with_unit(scale),
        "first watched at": f"{amount(first, counts.unit)} {counts.unit}",
        "at risk at B10": f"{at_risk:.0f}",
        "log-likelihood": f"{fitted.log_likelihood:.2f}",
    }
    return people, {
        "component": curve.component,
        "unit": counts.unit,
        **{f"shape_{part}": getattr(shape, part) for part in BOUNDS},
        **{f"scale_{part}": getattr(scale, part) for part in BOUNDS},
        "confidence": confidence,
        "first_watched": first,
        "at_risk_at_b10": at_risk,
        "log_likelihood": fitted.log_likelihood,
    }


def b10_life(curve: ComponentCurve, *, confidence: float) -> Estimate:
    """The B10 life by profile likelihood, or from the posterior where failures are few."""
    if curve.weibull is None:
        return curve.posterior.b_life(0.10, confidence=confidence)
    return b_life(curve.weibull, 0.10, confidence=confidence)


def chance_next(
    curve: ComponentCurve, *, age: float | None, horizon: float, confidence: float
) -> Estimate:
    """The chance that a part as old as `age` fails within the horizon."""
    if age is None or horizon <= 0:
        return Estimate(None, None, None, confidence, "chance", "none of known age in the book")
    if curve.weibull is None:
        return curve.posterior.chance_within(age=age, horizon=horizon, confidence=confidence)
    return chance_within(curve.weibull, age=age, horizon=horizon, confidence=confidence)


def _median_parts(workshop: Workshop, origin: str) -> dict[tuple[str, str], float]:
    """Median age and distance of the parts in service in the book, by component and unit."""
    parts, catalogue = parts_in_the_book(workshop.records, workshop.histories), workshop.catalogue
    medians = (
        parts.filter(pl.col("origin") == origin)
        .group_by("component")
        .agg(
            pl.col("age_years").median().alias(YEARS),
            (pl.col("distance_mi").median() * catalogue.per_mile).alias(catalogue.distances_in),
        )
        .unpivot(index="component")
        .drop_nulls()
    )
    return {(name, unit): value for name, unit, value in medians.iter_rows()}


def _typed_life(
    curve: ComponentCurve, b10: Estimate, chance: Estimate, age: float | None
) -> dict[str, Any]:
    fitted = curve.weibull
    return {
        "component": curve.component,
        "origin": curve.origin,
        "unit": curve.counts.unit,
        "lives": int(curve.counts.n_lives),
        "failures": round(curve.counts.n_failures),
        "shape": fitted.shape if fitted else None,
        "scale": fitted.scale if fitted else None,
        **{f"b10_{part}": getattr(b10, part) for part in BOUNDS},
        "age_now": age,
        **{f"chance_12_months_{part}": getattr(chance, part) for part in BOUNDS},
        "confidence": b10.confidence,
        "method": "Weibull by maximum likelihood" if fitted else "Weibull posterior",
        "note": joined(curve.reason, b10.note, _short_note(curve, b10)),
        "chance_note": chance.note,
    }


def _people_life(
    curve: ComponentCurve, b10: Estimate, chance: Estimate, age: float | None
) -> dict[str, str]:
    unit = curve.counts.unit
    return {
        "component": curve.component,
        "watched": f"{curve.counts.n_lives:.0f}",
        "failed": f"{curve.counts.n_failures:.0f}",
        f"B10 life ({b10.confidence:.0%} interval)": with_unit(b10),
        "chance of failing in 12 months": marked(
            estimate_text(chance) + ("" if age is None else f" at {amount(age, unit)} {unit}"),
            chance.note,
        ),
        "note": _short_note(curve, b10),
    }


def _failures_below(curve: ComponentCurve, age: float) -> float:
    """How many were seen to fail by an age."""
    seen = curve.counts.table.filter(pl.col("upper") <= age)["count"].sum()
    return float(seen)


def _short_note(curve: ComponentCurve, b10: Estimate) -> str:
    below = 0.0 if b10.value is None else _failures_below(curve, b10.value)
    if curve.weibull is not None and below < FEW_BELOW:
        return f"only {below:.0f} failed earlier: extrapolated"
    if not curve.counts.n_failures:
        return "no failure yet: a bound, not an estimate"
    few = "few failures" if curve.weibull is None else ""
    return joined(few, _reach_note(b10.note))


def _reach_note(note: str) -> str:
    """Where nothing was seen, without the age: "beyond the last failure: extrapolated"."""
    place, _, _ = note.partition(" at ")
    return f"{place}: {EXTRAPOLATED}" if EXTRAPOLATED in note else ""


def _life_notes(workshop: Workshop, pace: Pace) -> tuple[str, ...]:
    return (
        f"B10 life: by then one in ten has {workshop.episodes.rule.failed}. Rule: "
        f"{workshop.episodes.rule.sentence()}.",
        f"12 months are {amount(pace.per_year, pace.unit)} {pace.unit} for parts that wear by "
        "distance. Intervals are profile-likelihood ones, or credible ones where failures are few, "
        "two-sided; “or more” and “at most” are one-sided, each at the same level. All take every "
        "part by itself.",
    )


def ready_lives_answer(lives: pl.DataFrame, *, confidence: float) -> Answer:
    """The B10 life of each component from lives that were counted elsewhere."""
    rows, people = [], []
    for component, counts in count_lives(lives, rule=READY).items():
        curve = curve_of(component, counts, origin="as stated", confidence=confidence)
        b10 = b10_life(curve, confidence=confidence)
        fitted = curve.weibull
        rows.append(
            {
                "component": component,
                "unit": counts.unit,
                "lives": int(counts.n_lives),
                "failures": round(counts.n_failures),
                "shape": fitted.shape if fitted else None,
                "scale": fitted.scale if fitted else None,
                **{f"b10_{part}": getattr(b10, part) for part in BOUNDS},
                "note": joined(curve.reason, b10.note),
            }
        )
        people.append(
            {
                "component": component,
                "lives": f"{counts.n_lives:.0f}",
                "failed": f"{counts.n_failures:.0f}",
                f"B10 life ({confidence:.0%} interval)": with_unit(b10),
                "note": _short_note(curve, b10),
            }
        )
    return Answer("Ready-made lives", pl.DataFrame(people), pl.DataFrame(rows))
