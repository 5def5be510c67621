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
    p_cells,
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
        f"Versions against the usual one, grades against {RENEWAL_GRADE}",
        pl.DataFrame([_people_effect(*one) for one in shown], infer_schema_length=None),
        pl.DataFrame([_typed_effect(*one) for one in shown], infer_schema_length=None),
        _effect_notes(workshop, ages, usual=usual, number=n_tested(p_values)),
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


def _effect_notes(
    workshop: Workshop, ages: dict[str, float], *, usual: str, number: int
) -> tuple[str, ...]:
    return (
        f"Against whom: original parts against those of the version of most vehicles ({usual}), "
        f"renewed ones against {RENEWAL_GRADE}; where none of these was watched, against the "
        "largest group. The table of renewed parts by grade asks something else, a grade against "
        "all others together, so that its verdict need not be this one.",
        "Original parts are compared on the scale on which they wear, up to an age. "
        + book_ages_sentence(ages)
        + f" Renewed parts are compared up to {UNTIL_YEARS:g} years after fitting.",
        "Verdict and p: the log-rank test, however few have failed, its variance raised by how "
        "much the parts of a vehicle fail together (as Rao & Scott 1992); held to account for all "
        f"{number} comparisons (Holm 1979).",
        "Times as long: Weibull accelerated life; times as often: Cox, at equal age; both with "
        f"errors by vehicle, on the logarithm, wanting {FEWEST_FAILURES} failures of each. Where "
        "the ratio changes with age (tested, and held to account likewise) it is an average over "
        "the ages seen.",
        f"Intervals are {workshop.confidence:.0%} ones for each comparison by itself. Unadjusted: "
        "it leaves out no difference, but with so many comparisons some do by chance, and the "
        "verdict, which counts them all, does not.",
        "Differences in mean life (up to the age, from where both are watched) and in the share "
        "failed by it are from Kaplan-Meier, symmetric (Wald), and take every part by itself; "
        "where none of a group failed by then, its own doubt is not in the interval, which is too "
        "narrow.",
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
    told |= {"p_value": one.p_value, "p_value_held": p_value, "sooner": one.sooner}
    told |= {"steady_p_value": one.steady_p_value, "steady_p_value_held": steady}
    told |= {"until": one.until}
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
        **p_cells(one.p_value, p_value),
        "times as long": _times(one.factor) + _unadjusted(one.factor, 1.0, p_value),
        "times as often": _times(one.ratio) + _unadjusted(one.ratio, 1.0, p_value),
        "the ratio": steady_text,
        "mean life differs by": _gap_text(one.mean_gap, p_value),
        "share failed differs by": _gap_text(one.share_gap, p_value),
    }


def _verdict(one: Contrast, p_value: float | None) -> str:
    if p_value is None:
        return one.reason
    if p_value >= SURE:
        return UNSURE
    return "fails sooner" if one.sooner else "lasts longer"


def _unadjusted(one: Estimate, alike: float, p_value: float | None) -> str:
    """Said of an interval that leaves out no difference where the verdict does not."""
    if one.lower is None or one.upper is None or one.lower <= alike <= one.upper:
        return ""
    return "" if p_value is not None and p_value < SURE else ", unadjusted"


def _times(factor: Estimate) -> str:
    if factor.value is None:
        return ""
    return f"{factor.value:.2f} ({factor.lower:.2f} to {factor.upper:.2f})"


def _gap_text(gap: Estimate, p_value: float | None) -> str:
    """A difference with its sign: "-0.8 (-1.5 to -0.1) years", "+12 (+3 to +21) points"."""
    if gap.value is None or gap.lower is None or gap.upper is None:
        return gap.note
    note = _unadjusted(gap, 0.0, p_value) + (f"; {gap.note}" if gap.note else "")
    if gap.unit == "share":
        value, lower, upper = (f"{100 * one:+.0f}" for one in (gap.value, gap.lower, gap.upper))
        return f"{value} ({lower} to {upper}) points{note}"
    value, lower, upper = (_signed(one, gap.unit) for one in (gap.value, gap.lower, gap.upper))
    return f"{value} ({lower} to {upper}) {gap.unit}{note}"


def _signed(value: float, unit: str) -> str:
    return f"{'-' if value < 0 else '+'}{amount(abs(value), unit)}"
