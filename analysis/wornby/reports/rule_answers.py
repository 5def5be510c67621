"""Answers on observation rules: how much a curve hangs on who is taken to have been watched."""

from collections.abc import Iterable, Mapping
from typing import Any

import polars as pl

from wornby.curves.components import ComponentCurve
from wornby.curves.profile import share_failed
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.observation import NAIVE, ObservationRule, variants_of
from wornby.progress import each
from wornby.reports.amounts import PER_CENT, amount, estimate_text, joined, marked, with_unit
from wornby.reports.answer import Answer
from wornby.reports.life_answers import BOUNDS, b10_life, chance_next
from wornby.reports.workshop import Workshop, curves_under, pace_of

NAIVEST = list(NAIVE)[-1]
NEAR = 0.05
"""A naive life within five per cent of the rule's own is near enough."""


def rule_answer(workshop: Workshop) -> Answer:
    """Each component's B10 life under the rule in force, the rules that move it most, the naive."""
    rules = variants_of(workshop.episodes.rule)
    names = list(workshop.catalogue.components)
    by_rule = {
        name: curves_under(workshop, rule, names)
        for name, rule in each(list(rules.items()), "rules")
    }
    people, rows = [], []
    for component in names:
        lives = {"in force": b10_or_none(workshop.original.get(component), workshop.confidence)}
        for name, curves in by_rule.items():
            lives[name] = b10_or_none(curves.get(component), workshop.confidence)
        if any(lives.values()):
            rows.append(_moved(component, lives))
            people.append(_people_moved(rows[-1], lives))
    if not rows:
        raise EstimateError("no original part was watched under any rule")
    return Answer(
        "B10 life under other observation rules",
        pl.DataFrame(people, infer_schema_length=None),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            f"In force: {workshop.episodes.rule.sentence()}. Its interval is that of the lives.",
            "Shortest and longest are of the rules that differ from it in one choice; the naive "
            f"one is {NAIVEST.removeprefix('naive: ')}, every renewal a failure. "
            "`wornby life --by rule --component NAME` shows every rule.",
        ),
    )


def sensitivity_answer(workshop: Workshop, component: str, *, age: float | None = None) -> Answer:
    """One component under every rule: B10 life, share failed by an age, chance from then on.

    `age` is in the component's own unit; without one it is the B50 life under the rule in force,
    or the longest watch where that lies beyond it. The naive rules stand last.
    """
    if component not in workshop.original:
        known = ", ".join(workshop.original)
        raise EstimateError(f"no original {component!r} was watched; there are curves of {known}")
    own = workshop.original[component]
    at = _middle_age(own) if age is None else age
    rules = {"in force": workshop.episodes.rule, **variants_of(workshop.episodes.rule)}
    told = [_under(workshop, component, name, rule, at) for name, rule in rules.items()]
    rows = [row for row, _ in told]
    unit = own.counts.unit
    return Answer(
        f"{component[0].upper()}{component[1:]} under each observation rule",
        pl.DataFrame([people for _, people in told], infer_schema_length=None),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            *_naive_sentences(rows, unit),
            f"Share failed by {amount(at, unit)} {unit}; chance of failing within 12 months of "
            f"then, working until then. Intervals: {workshop.confidence:.0%} profile likelihood, "
            "or credible where few failed, every part by itself.",
            *(f"{name}: {rule.sentence()}." for name, rule in rules.items()),
        ),
    )


def off_by(ratio: float) -> str:
    """How far a naive life is off, in words.

    >>> off_by(1.39).replace("\\u00a0", " "), off_by(0.8).replace("\\u00a0", " "), off_by(1.01)
    ('39 % too long', '20 % too short', 'about right')
    """
    if abs(ratio - 1) < NEAR:
        return "about right"
    return f"{100 * abs(ratio - 1):.0f}{PER_CENT} too {'long' if ratio > 1 else 'short'}"


def b10_or_none(curve: ComponentCurve | None, confidence: float) -> Estimate | None:
    """The B10 life, where any part was watched."""
    return None if curve is None else b10_life(curve, confidence=confidence)


def _moved(component: str, lives: dict[str, Estimate | None]) -> dict[str, Any]:
    """The life in force, the shortest, the longest and the naivest."""
    watched = {name: life for name, life in lives.items() if life is not None}
    values = {name: life.value for name, life in watched.items() if life.value is not None}
    here, naive = values.get("in force"), values.get(NAIVEST)
    others = {name: x for name, x in values.items() if name not in {"in force", *NAIVE}}
    shortest, longest = (
        pick(others, key=lambda name: others[name]) if others else None for pick in (min, max)
    )
    in_force = watched.get("in force")
    shown = ["in force", *(name for name in (shortest, longest) if name), NAIVEST]
    return {
        "component": component,
        "unit": next(iter(watched.values())).unit,
        **{f"b10_{part}": getattr(in_force, part, None) for part in BOUNDS},
        "shortest_rule": shortest,
        "shortest_b10": others.get(shortest or ""),
        "longest_rule": longest,
        "longest_b10": others.get(longest or ""),
        "naive_b10": naive,
        "naive_ratio": naive / here if naive and here else None,
        "naive_ratio_note": joined(*(_named_note(name, watched) for name in ("in force", NAIVEST))),
        "note": joined(*(_named_note(name, watched) for name in dict.fromkeys(shown))),
    }


def _named_note(rule: str, lives: Mapping[str, Estimate]) -> str:
    """What the B10 life under a rule leans on, if it has a value."""
    life = lives.get(rule)
    return f"{rule}: {life.note}" if life is not None and life.note else ""


def _people_moved(row: dict[str, Any], lives: Mapping[str, Estimate | None]) -> dict[str, str]:
    def told(rule: str | None) -> str:
        life = lives.get(rule or "")
        if life is None or life.value is None:
            return "none"
        return marked(amount(life.value, row["unit"]), life.note)

    def named(which: str) -> str:
        rule = row[f"{which}_rule"]
        return f"{told(rule)}: {rule}" if rule else "none"

    here, ratio = lives["in force"], row["naive_ratio"]
    return {
        "component": row["component"],
        "in force": "none watched" if here is None else marked(with_unit(here), here.note),
        "shortest": named("shortest"),
        "longest": named("longest"),
        "naive": told(NAIVEST),
        "the naive one is": "not known" if ratio is None else off_by(ratio),
    }


def _middle_age(curve: ComponentCurve) -> float:
    """The B50 life, or the longest watch where that is sooner."""
    longest = float(curve.counts.table["lower"].max())  # type: ignore[arg-type]  # never empty
    if curve.weibull is None:
        return longest
    return min(curve.weibull.b_life(0.5), longest)


def _under(
    workshop: Workshop, component: str, name: str, rule: ObservationRule, age: float
) -> tuple[dict[str, Any], dict[str, str]]:
    """A row for programs and one for people."""
    curve = curves_under(workshop, rule, [component]).get(component)
    if curve is None:
        return {"rule": name}, {"rule": name, "failed": "none watched"}
    confidence = workshop.confidence
    horizon = 1.0 if curve.by_age else pace_of(workshop).per_year
    told = {
        "b10": b10_life(curve, confidence=confidence),
        "share_failed": share_failed(curve.weibull, age, confidence=confidence)
        if curve.weibull is not None
        else curve.posterior.share_failed(age, confidence=confidence),
        "chance": chance_next(curve, age=age, horizon=horizon, confidence=confidence),
    }
    row = {"rule": name, "unit": curve.counts.unit, "failures": curve.counts.n_failures}
    for quantity, estimate in told.items():
        row |= {f"{quantity}_{part}": getattr(estimate, part) for part in BOUNDS}
        row |= {f"{quantity}_note": estimate.note}
    return row, {
        "rule": name,
        "failed": f"{curve.counts.n_failures:.0f}",
        "B10 life": marked(with_unit(told["b10"]), told["b10"].note),
        "share failed": marked(estimate_text(told["share_failed"]), told["share_failed"].note),
        "chance in 12 months": marked(estimate_text(told["chance"]), told["chance"].note),
    }


def _naive_sentences(rows: Iterable[dict[str, Any]], unit: str) -> list[str]:
    """How far each naive answer is off, and in which direction."""
    by_rule = {row["rule"]: row.get("b10_value") for row in rows}
    here = by_rule["in force"]
    return [
        f"{name[0].upper()}{name[1:]}, the B10 life would come out at {amount(life, unit)} instead "
        f"of {amount(here, unit)} {unit}: {off_by(life / here)}."
        for name, life in by_rule.items()
        if name in NAIVE and life and here
    ]
