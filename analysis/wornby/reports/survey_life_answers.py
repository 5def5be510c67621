"""Answers on lives that a survey tells of: how long parts lasted, and on how many answers."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from wornby.curves.components import ComponentCurve, curve_of
from wornby.curves.profile import b_life
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import Counts
from wornby.reports.amounts import with_unit
from wornby.reports.answer import Answer
from wornby.survey.answers import Survey
from wornby.survey.cells import LEAST_ANSWERS, LEAST_BASE
from wornby.survey.heaps import Heaping
from wornby.survey.lives import SurveyLives, survey_lives
from wornby.survey.survey_rules import SurveyRule, survey_variants
from wornby.survey.told_components import ComponentAnswers

SHARES = {"b10": 0.10, "b50": 0.50}
BOUNDS = ("value", "lower", "upper")
CELLS = ("renewed", "original", "unsure")
MOST_TEXTS = 15
FAR_APART = 10.0
"""Limits further apart than so many times say nothing that helps an owner."""
TOO_EARLY = "out of reach: no answer tells of so early a time"


def survey_life_answer(
    lives: SurveyLives, *, confidence: float, origin: str = "original"
) -> Answer:
    """Each component's answers and the ages by which one in ten, and half, had been renewed.

    Nothing is shown of a component with fewer than `LEAST_BASE` lives; nor are the three
    numbers of answers where one of them is below `LEAST_ANSWERS`. With `origin` "renewed" it
    speaks of the parts fitted since, where all their dates are known.
    """
    told = {row["component"]: row for row in lives.told.to_dicts()}
    counts, base = _of_origin(lives, origin)
    rows, people = [], []
    for component in _shown(counts, told, base):
        curve = _curve(component, counts[component], origin, confidence)
        b = {name: _b_life(curve, share, confidence) for name, share in SHARES.items()}
        rows.append(_typed(curve, told[component], base, b))
        people.append(_said(curve, told[component], base, b))
    few = len(told) - len(rows)
    if not rows:
        raise EstimateError(f"no component has {LEAST_BASE} {origin} lives: nothing is shown")
    return Answer(
        f"Life of {origin} parts, as owners tell",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        _notes(lives, few),
    )


def survey_rule_answer(
    survey: Survey,
    *,
    rule: SurveyRule,
    weights: pl.DataFrame | None,
    confidence: float,
) -> Answer:
    """Each component's B10 life under the rule, and under each that differs in one choice."""
    rules = {"as chosen": rule, **survey_variants(rule)}
    if not _reasons_told(survey):
        rules = {name: r for name, r in rules.items() if r.life_ends == rule.life_ends}
    columns: dict[str, dict[str, Estimate | None]] = {}
    for name, other in rules.items():
        lives = survey_lives(survey, rule=other, weights=weights)
        told = {row["component"]: row for row in lives.told.to_dicts()}
        for component in told:
            shown = component in _shown(lives.counts, told, "lives")
            columns.setdefault(component, {})[name] = (
                _b10_of(component, lives.counts[component], confidence) if shown else None
            )
    kept = {name: row for name, row in columns.items() if row["as chosen"] is not None}
    people = [
        {"component": component}
        | {name: "" if e is None else with_unit(e) for name, e in row.items()}
        for component, row in kept.items()
    ]
    rows = [
        {"component": component, "rule": name, **{b: getattr(e, b) for b in BOUNDS}}
        for component, row in kept.items()
        for name, e in row.items()
        if e is not None
    ]
    return Answer(
        "B10 life as owners tell, by what their answers are taken to say",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        (f"As chosen: {rule.sentence()}.", f"Empty: fewer than {LEAST_BASE} lives left."),
    )


def unread_answer(components: ComponentAnswers) -> Answer:
    """What could not be understood, most frequent first; no text leads to who wrote it."""
    shown = components.unread.head(MOST_TEXTS)
    people = shown.select("column", "text", pl.col("answers").cast(pl.String))
    return Answer(
        "Answers that were not understood",
        people,
        components.unread,
        (
            f"Digits are noughts, and words that fewer than {LEAST_ANSWERS} wrote are hidden. "
            "Where a word should have been understood, add it to [file.words.state] in "
            "layout.toml.",
        ),
    )


def _reasons_told(survey: Survey) -> bool:
    """Whether any respondent said why a part was renewed."""
    told = survey.components
    return told is not None and bool((told.renewals["why"] != "unknown").any())


def _of_origin(lives: SurveyLives, origin: str) -> tuple[Mapping[str, Counts], str]:
    by_origin = {"original": (lives.counts, "lives"), "renewed": (lives.renewed, "later")}
    if origin not in by_origin:
        raise ValueError(f"no origin {origin!r}; use {' or '.join(by_origin)}")
    return by_origin[origin]


def _shown(counts: Mapping[str, Counts], told: Mapping[str, Any], base: str) -> list[str]:
    """The components with lives enough to be shown."""
    return [name for name in counts if told[name][base] >= LEAST_BASE]


def _curve(component: str, counts: Counts, origin: str, confidence: float) -> ComponentCurve:
    scale = "distance" if counts.unit == "miles" else "age"
    return curve_of(component, counts, scale=scale, origin=origin, confidence=confidence)


def _b10_of(component: str, counts: Counts, confidence: float) -> Estimate:
    return _b_life(_curve(component, counts, "original", confidence), SHARES["b10"], confidence)


def _b_life(curve: ComponentCurve, share: float, confidence: float) -> Estimate:
    """By profile likelihood, or from the posterior where no Weibull could be fitted.

    Out of reach where nothing was told of so early an age and the limits are further apart
    than `FAR_APART`: the number is then the curve's form alone.
    """
    if curve.weibull is None:
        life = curve.posterior.b_life(share, confidence=confidence)
    else:
        life = b_life(curve.weibull, share, confidence=confidence)
    if life.value is None or life.lower is None or life.upper is None:
        return life
    if life.value < _earliest(curve) and life.upper > FAR_APART * life.lower:
        return Estimate(None, None, None, confidence, life.unit, TOO_EARLY)
    return life


def _earliest(curve: ComponentCurve) -> float:
    """The least age or distance that any answer tells of."""
    table = curve.counts.table
    bounds: list[float] = [*table["lower"].to_list(), *table["upper"].to_list()]
    return min(bound for bound in bounds if bound > 0)


def _small(told: Mapping[str, Any]) -> bool:
    """Whether one of the numbers of answers is so small that none of them is shown."""
    return any(0 < told[cell] < LEAST_ANSWERS for cell in CELLS)


def _typed(
    curve: ComponentCurve, told: Mapping[str, Any], base: str, b: Mapping[str, Estimate]
) -> dict[str, Any]:
    cells = {cell: None if _small(told) else int(told[cell]) for cell in CELLS}
    fitted = curve.weibull
    return {
        "component": curve.component,
        "unit": curve.counts.unit,
        "answers": int(told["answers"]),
        **cells,
        "base": int(told[base]),
        "effective_base": curve.counts.n_lives,
        "shape": fitted.shape if fitted else None,
        "scale": fitted.scale if fitted else None,
        **{f"{name}_{part}": getattr(e, part) for name, e in b.items() for part in BOUNDS},
        "method": "Weibull by maximum likelihood" if fitted else "Weibull posterior",
        "note": _note(curve, b),
    }


def _said(
    curve: ComponentCurve, told: Mapping[str, Any], base: str, b: Mapping[str, Estimate]
) -> dict[str, str]:
    cells = [f"{told[cell]:,}" if not _small(told) else "not shown" for cell in CELLS]
    return {
        "component": curve.component,
        "answers": f"{told['answers']:,}",
        **dict(zip(("renewed", "still original", "don't know"), cells, strict=True)),
        "base": f"{told[base]:,}",
        f"B10 life ({b['b10'].confidence:.0%} interval)": with_unit(b["b10"]),
        "B50 life": with_unit(b["b50"]),
        "note": _note(curve, b),
    }


def _note(curve: ComponentCurve, b: Mapping[str, Estimate]) -> str:
    """What the numbers lean on beyond what was told."""
    b10 = b["b10"].value
    said = ["few renewals"] if curve.weibull is None and curve.counts.n_failures else []
    said += ["none renewed: a bound"] if not curve.counts.n_failures else []
    said += (
        ["B10 earlier than anything told: extrapolated"] if b10 and b10 < _earliest(curve) else []
    )
    late = b["b50"].value is not None and b["b50"].note
    said += ["B50 later than anything told: extrapolated"] if late else []
    return "; ".join(said)


def _notes(lives: SurveyLives, few: int) -> tuple[str, ...]:
    weighted = lives.lives["weight"].n_unique() > 1
    notes = [
        f"Rule: {lives.rule.sentence()}.",
        "A life here ends when the part is renewed, for whatever reason the rule counts; B10 and "
        "B50: by then one in ten, and half, had been.",
        "Vehicles that were given up do not answer, and owners with trouble may answer more.",
        *(_heap_note(test) for test in lives.heaps if test.found),
    ]
    if weighted:
        notes.append(
            "Answers are weighted to the vehicles on the road; intervals are as wide as those of "
            "so many answers of equal weight as these are worth (Kish 1965)."
        )
    if few:
        notes.append(f"Not shown, with fewer than {LEAST_BASE} lives: components, {few}.")
    return tuple(notes)


def _heap_note(test: Heaping) -> str:
    return (
        f"{test.what.capitalize()} heap on multiples of {test.round_to:,}: {test.round_ones:,} of "
        f"{test.named:,}, {test.index:.0f} on Whipple's index, where 100 is no heaping. They are "
        f"taken as rounded, {test.round_to // 2:,} either way."
    )
