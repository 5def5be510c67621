"""Answers on versions: does a component live alike in all, and is there enough to tell?"""

from typing import Any

import polars as pl

from wornby.curves.contrasts import holm
from wornby.curves.episode_lives import lives_of
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.curves.versions import VersionLife, version_lives
from wornby.errors import EstimateError
from wornby.reports.amounts import amount, joined, marked, percent, with_unit
from wornby.reports.answer import Answer
from wornby.reports.life_answers import BOUNDS
from wornby.reports.sentences import SURE
from wornby.reports.workshop import Workshop

UNSURE = "not enough to tell"
HELD = "p, held to account"
"""What the column of p-values is called that counts all tests of its table."""


def version_answer(workshop: Workshop) -> Answer:
    """Each component's original parts by version, tested alike and with pooled B10 lives."""
    told = []
    for component in workshop.catalogue.components.values():
        unit = workshop.catalogue.component_units[component.name]
        lives = lives_of_origin(workshop, component.name, "original", unit)
        told += version_lives(
            lives,
            component.name,
            unit=unit,
            confidence=workshop.confidence,
            prior=CAR_COMPONENT,
        )
    if len({life.version for life in told} - {"none"}) < 2:
        raise EstimateError("fewer than two versions were watched: nothing to compare")
    p_values = held_together({life.component: life.p_value for life in told})
    return Answer(
        "Original parts by version",
        pl.DataFrame([_people_version(life, p_values[life.component]) for life in told]),
        pl.DataFrame(
            [_typed_version(life, p_values[life.component]) for life in told],
            infer_schema_length=None,
        ),
        (
            "Do they differ: log-rank test over the versions of a component, parts taken one by "
            f"one; p-values are held to account for all {n_tested(p_values)} components "
            "(Holm 1979).",
            "B10 life drawn together: with one shape for all versions, each version's rate is "
            "drawn towards the common one as far as the records leave it open; the last column "
            f"says how far. Intervals are credible ones of {workshop.confidence:.0%} that carry "
            "the doubt about shape, common rate and spread, every part by itself; prior for the "
            f"shape: median {CAR_COMPONENT.median:g}, {CAR_COMPONENT.basis}.",
        ),
    )


def lives_of_origin(workshop: Workshop, component: str, origin: str, unit: str) -> pl.DataFrame:
    """Original or renewed lives of a component in one unit."""
    table = workshop.episodes.table
    own = table.filter((pl.col("component") == component) & (pl.col("origin") == origin))
    return lives_of(own, unit=unit)


def held_together(p_values: dict[str, float | None]) -> dict[str, float | None]:
    """P-values held together by Holm, those without one left out."""
    known = {name: p for name, p in p_values.items() if p is not None}
    held = dict(zip(known, holm(list(known.values())), strict=True)) if known else {}
    return {name: held.get(name) for name in p_values}


def n_tested(p_values: dict[str, float | None]) -> int:
    """How many of them could be tested."""
    return sum(p is not None for p in p_values.values())


def _typed_version(life: VersionLife, p_value: float | None) -> dict[str, Any]:
    return {
        "component": life.component,
        "version": life.version,
        "unit": life.unit,
        "lives": life.lives,
        "failures": life.failures,
        "expected_failures": life.expected,
        "p_value": life.p_value,
        "p_value_held": p_value,
        "b10_alone": life.own,
        **{f"b10_pooled_{part}": getattr(life.pooled, part) for part in BOUNDS},
        "pull": life.pull,
        "confidence": life.pooled.confidence,
        "own_note": life.own_note,
        "note": joined(life.reason, life.pooled.note),
    }


def _people_version(life: VersionLife, p_value: float | None) -> dict[str, str]:
    verdict = UNSURE
    if p_value is not None and p_value < SURE:
        verdict = "they differ"
    alone = "none failed" if not life.failures else ""
    return {
        "component": life.component,
        "version": life.version,
        "watched": f"{life.lives:.0f}",
        "failed": f"{life.failures:.0f}",
        "failed if all were alike": "" if life.expected is None else f"{life.expected:.1f}",
        "do they differ": life.reason or verdict,
        **p_cells(life.p_value, p_value),
        "B10 life alone": alone
        if life.own is None
        else marked(amount(life.own, life.unit), life.own_note),
        "B10 life drawn together": ""
        if life.reason
        else marked(with_unit(life.pooled), life.pooled.note),
        "drawn to the others": "" if life.pull is None else percent(life.pull),
    }


def p_cells(p_value: float | None, held: float | None) -> dict[str, str]:
    """A p-value as it came out, and as it stands when all tests of the table are counted.

    >>> p_cells(0.0004, 0.03)
    {'p': 'below 0.001', 'p, held to account': '0.030'}
    """
    return {"p": _p_text(p_value), HELD: _p_text(held)}


def _p_text(p_value: float | None) -> str:
    if p_value is None:
        return ""
    return "below 0.001" if p_value < 0.001 else f"{p_value:.3f}"
