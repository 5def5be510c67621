"""Answers on effects: how much sooner or more often one version or grade fails than another."""

from typing import Any

import polars as pl

from wornby.curves.two_groups import FEWEST_FAILURES, Contrast, contrast
from wornby.curves.uncertainty import Estimate
from wornby.curves.versions import UNKNOWN
from wornby.errors import EstimateError
from wornby.histories.counts import YEARS
from wornby.reports.amounts import amount, joined
from wornby.reports.answer import Answer
from wornby.reports.life_answers import BOUNDS
from wornby.reports.medians_in_the_book import book_ages, book_ages_sentence
from wornby.reports.sentences import SURE
from wornby.reports.version_answers import (
    UNSURE,
    held_together,
    lives_of_origin,
    n_tested,
    p_text,
)
from wornby.reports.workshop import RENEWAL_GRADE, Workshop

UNTIL_YEARS = 5.0
"""Renewed parts are compared up to so many years after fitting."""


def effect_answer(workshop: Workshop) -> Answer:
    """Versions of original parts and grades of renewed ones compared, in plain units."""
    ages, usual = book_ages(workshop), _usual_version(workshop)
    told: list[tuple[str, str, Contrast | str]] = []
    for component in workshop.catalogue.components.values():
        unit = workshop.catalogue.component_units[component.name]
        originals = lives_of_origin(workshop, component.name, "original", unit)
        renewed = lives_of_origin(workshop, component.name, "renewed", YEARS)
        for lives, column, base, until, until_unit in (
            (originals, "version", usual, ages.get(unit, 0.0), unit),
            (renewed, "grade", RENEWAL_GRADE, UNTIL_YEARS, YEARS),
        ):
            found = _against(
                lives, column, base=base, until=until, unit=until_unit,
                confidence=workshop.confidence,
            )  # fmt: skip
            told += [(component.name, column, one) for one in found]
    if not any(isinstance(one, Contrast) for _, _, one in told):
        raise EstimateError("no component has two versions or two grades: nothing to compare")
    p_values = held_together({f"{n}": _p_value(one) for n, (_, _, one) in enumerate(told)})
    steady = held_together({f"{n}": _steady(one) for n, (_, _, one) in enumerate(told)})
    rows = zip(told, p_values.values(), steady.values(), strict=True)
    shown = [(*one, p, same) for one, p, same in rows]
    return Answer(
        "Versions and grades, one against another",
        pl.DataFrame([_people_effect(*one) for one in shown], infer_schema_length=None),
        pl.DataFrame([_typed_effect(*one) for one in shown], infer_schema_length=None),
        _effect_notes(ages, n_tested(p_values)),
    )


def _usual_version(workshop: Workshop) -> str:
    """The version of most vehicles."""
    known = workshop.records.vehicles.filter(pl.col("version") != UNKNOWN)
    counted = known.group_by("version").len().sort(["len", "version"], descending=[True, False])
    return str(counted["version"][0]) if counted.height else UNKNOWN


def _against(
    lives: pl.DataFrame, column: str, *, base: str, until: float, unit: str, confidence: float
) -> list[Contrast | str]:
    """Each group against the base, or against the largest where there is none of the base."""
    groups = (
        lives.filter(pl.col(column) != UNKNOWN)
        .group_by(column)
        .agg(pl.col("count").sum())
        .sort(["count", column], descending=[True, False])[column]
        .to_list()
    )
    if len(groups) < 2:
        return [f"one {column} only" if groups else "none watched"]
    against = base if base in groups else groups[0]
    return [
        contrast(
            lives, column, first=one, base=against, until=until, unit=unit, confidence=confidence
        )
        for one in groups
        if one != against
    ]


def _p_value(one: Contrast | str) -> float | None:
    return one.p_value if isinstance(one, Contrast) else None


def _steady(one: Contrast | str) -> float | None:
    return one.steady_p_value if isinstance(one, Contrast) else None


def _effect_notes(ages: dict[str, float], number: int) -> tuple[str, ...]:
    return (
        "Original parts are compared by version on the scale on which they wear, up to an age. "
        + book_ages_sentence(ages)
        + f" Renewed parts are compared by grade, up to {UNTIL_YEARS:g} years after fitting.",
        "Times as long: Weibull accelerated life; times as often: Cox, at equal age; both with "
        f"errors by vehicle, wanting {FEWEST_FAILURES} failures of each. The verdict is Cox's, or "
        "where too few failed for it the log-rank test's, which takes every part by itself; "
        f"p-values are held to account for all {number} comparisons (Holm 1979). Where the ratio "
        "changes with age it is an average over the ages seen.",
        "Differences in mean life (up to the age, from where both are watched) and in the share "
        "failed by it are from Kaplan-Meier and take every part by itself; where none of a group "
        "failed by then, its own doubt is not in the interval, which is too narrow.",
    )


def _typed_effect(
    component: str, column: str, one: Contrast | str, p_value: float | None, steady: float | None
) -> dict[str, Any]:
    told: dict[str, Any] = {"component": component, "compared_by": column}
    if isinstance(one, str):
        return told | {"note": one}
    told |= {name: getattr(one, name) for name in ("first", "base", "lives", "failures")}
    told |= {"base_lives": one.base_lives, "base_failures": one.base_failures}
    for name in ("factor", "ratio", "mean_gap", "share_gap"):
        told |= {f"{name}_{part}": getattr(getattr(one, name), part) for part in BOUNDS}
    told |= {"p_value": p_value, "tested_by": one.tested_by, "sooner": one.sooner}
    told |= {"steady_p_value": steady, "until": one.until}
    estimates = one.factor, one.ratio, one.mean_gap, one.share_gap
    return told | {
        "unit": one.mean_gap.unit,
        "confidence": one.mean_gap.confidence,
        "note": joined(*(estimate.note for estimate in estimates)),
    }


def _people_effect(
    component: str, column: str, one: Contrast | str, p_value: float | None, steady: float | None
) -> dict[str, str]:
    if isinstance(one, str):
        return {"component": component, "compared": column, "verdict": one}
    steady_text = "" if steady is None else "changes with age" if steady < SURE else "steady"
    return {
        "component": component,
        "compared": f"{one.first} against {one.base}",
        "failed of watched": f"{one.failures:.0f} of {one.lives:.0f} against "
        f"{one.base_failures:.0f} of {one.base_lives:.0f}",
        "verdict": _verdict(one, p_value),
        "times as long": _times(one.factor),
        "times as often": _times(one.ratio),
        "the ratio": steady_text,
        "mean life differs by": _gap_text(one.mean_gap),
        "share failed differs by": _gap_text(one.share_gap),
    }


def _verdict(one: Contrast, p_value: float | None) -> str:
    if p_value is None:
        return one.reason
    if p_value >= SURE:
        return UNSURE
    way = "fails sooner" if one.sooner else "lasts longer"
    return f"{way} ({p_text(p_value)}{', log-rank' if one.tested_by == 'log-rank' else ''})"


def _times(factor: Estimate) -> str:
    if factor.value is None:
        return ""
    return f"{factor.value:.2f} ({factor.lower:.2f} to {factor.upper:.2f})"


def _gap_text(gap: Estimate) -> str:
    """A difference with its sign: "-0.8 (-1.5 to -0.1) years", "+12 (+3 to +21) points"."""
    if gap.value is None or gap.lower is None or gap.upper is None:
        return gap.note
    note = f"; {gap.note}" if gap.note else ""
    if gap.unit == "share":
        value, lower, upper = (f"{100 * one:+.0f}" for one in (gap.value, gap.lower, gap.upper))
        return f"{value} ({lower} to {upper}) points{note}"
    value, lower, upper = (_signed(one, gap.unit) for one in (gap.value, gap.lower, gap.upper))
    return f"{value} ({lower} to {upper}) {gap.unit}{note}"


def _signed(value: float, unit: str) -> str:
    return f"{'-' if value < 0 else '+'}{amount(abs(value), unit)}"
