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
from wornby.reports.survey_tables import counts_text, hiding_note
from wornby.survey.cells import LEAST_ANSWERS
from wornby.survey.figures_told import COUNTED
from wornby.survey.heaps import Heaping
from wornby.survey.lives import SurveyLives
from wornby.survey.publication import Publication
from wornby.survey.thresholds import Thresholds
from wornby.survey.told_components import ComponentAnswers

SHARES = {"b10": 0.10, "b50": 0.50}
BOUNDS = ("value", "lower", "upper")
ROUNDED_TO = 5
MOST_TEXTS = 15
FAR_APART = 10.0
"""Limits further apart than so many times say nothing that helps an owner."""
TOO_EARLY = "out of reach: no answer tells of so early a time"


def survey_life_answer(
    lives: SurveyLives, published: Publication, *, confidence: float, origin: str = "original"
) -> Answer:
    """Each component's answers and the ages by which one in ten, and half, had been renewed.

    Shown is what `published` lets be shown: numbers of answers, their share, and lives on bases
    that are large enough. With `origin` "renewed" it speaks of the parts fitted since, where all
    their dates are known.
    """
    told = {row["component"]: row for row in published.by_component.to_dicts()}
    counts = _of_origin(lives, origin)
    rows, people = [], []
    for component in _shown(lives, published, origin):
        curve = told_curve(component, counts[component], origin, confidence)
        b = {name: told_b_life(curve, share, confidence) for name, share in SHARES.items()}
        row = told[component] | {"base": _base(lives, told[component], origin)}
        rows.append(_typed(curve, row, b))
        people.append(_said(curve, row, b))
    if not rows:
        raise EstimateError(
            f"no component has {published.thresholds.minimum_base} {origin} lives that may be "
            "shown: nothing is"
        )
    few = lives.told.height - len(rows)
    return Answer(
        f"Life of {origin} parts, as owners tell",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        _notes(lives, few, published.thresholds),
    )


def few_digits(value: float | None) -> float | None:
    """A number to three significant digits: with more it could tell of single answers.

    >>> few_digits(49872.47572695283), few_digits(None)
    (49900.0, None)
    """
    return None if value is None else float(f"{value:.3g}")


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


def _of_origin(lives: SurveyLives, origin: str) -> Mapping[str, Counts]:
    by_origin = {"original": lives.counts, "renewed": lives.renewed}
    if origin not in by_origin:
        raise ValueError(f"no origin {origin!r}; use {' or '.join(by_origin)}")
    return by_origin[origin]


def _shown(lives: SurveyLives, published: Publication, origin: str) -> list[str]:
    """The components whose lives may be shown; of later parts those with enough, some ended."""
    told = published.by_component
    if origin == "original":
        return [str(name) for name in told.filter("lives_shown")["component"]]
    least = published.thresholds
    later = dict(lives.told.select("component", "later").iter_rows())
    return [
        name
        for name in told["component"].to_list()
        if later[name] >= least.minimum_base
        and not 0 < lives.renewed[name].n_failures < least.minimum_cell
    ]


def _base(lives: SurveyLives, told: Mapping[str, Any], origin: str) -> int:
    """How many lives; later ones rounded down, since no table of theirs was checked."""
    if origin == "original":
        return int(told["base"])
    later = dict(lives.told.select("component", "later").iter_rows())
    return int(later[told["component"]]) // ROUNDED_TO * ROUNDED_TO


def told_curve(component: str, counts: Counts, origin: str, confidence: float) -> ComponentCurve:
    """The curve of a component's lives as told, on the scale by which it wears."""
    return curve_of(component, counts, origin=origin, confidence=confidence)


def told_b_life(curve: ComponentCurve, share: float, confidence: float) -> Estimate:
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


def _typed(
    curve: ComponentCurve, told: Mapping[str, Any], b: Mapping[str, Estimate]
) -> dict[str, Any]:
    fitted = curve.weibull
    return {
        "component": curve.component,
        "unit": curve.counts.unit,
        **{name: told[name] for name in (*COUNTED, "share", "share_rounded_to", "base")},
        "shape": few_digits(fitted.shape) if fitted else None,
        "scale": few_digits(fitted.scale) if fitted else None,
        **{
            f"{name}_{part}": few_digits(getattr(e, part))
            for name, e in b.items()
            for part in BOUNDS
        },
        "method": "Weibull by maximum likelihood" if fitted else "Weibull posterior",
        "note": _note(curve, b),
    }


def _said(
    curve: ComponentCurve, told: Mapping[str, Any], b: Mapping[str, Estimate]
) -> dict[str, str]:
    return {
        "component": curve.component,
        **counts_text(told),
        "base": f"{told['base']:,}",
        f"B10 life ({b['b10'].confidence:.0%} interval)": with_unit(b["b10"]),
        "B50 life": with_unit(b["b50"]),
        "note": _note(curve, b),
    }


def _note(curve: ComponentCurve, b: Mapping[str, Estimate]) -> str:
    """What the numbers lean on beyond what was told."""
    b10 = b["b10"].value
    said = ["few renewals"] if curve.weibull is None and curve.counts.n_failures else []
    said += ["none renewed: a bound"] if not curve.counts.n_failures else []
    early = b10 and b10 < _earliest(curve)
    said += ["B10 earlier than anything told: extrapolated"] if early else []
    late = b["b50"].value is not None and b["b50"].note
    said += ["B50 later than anything told: extrapolated"] if late else []
    return "; ".join(said)


def _notes(lives: SurveyLives, few: int, thresholds: Thresholds) -> tuple[str, ...]:
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
    notes.append(hiding_note(thresholds))
    if few:
        notes.append(
            f"Not shown, on fewer than {thresholds.minimum_base} lives or because they would give "
            f"a withheld number away: components, {few}."
        )
    return tuple(notes)


def _heap_note(test: Heaping) -> str:
    return (
        f"{test.what.capitalize()} heap on multiples of {test.round_to:,}: {test.round_ones:,} of "
        f"{test.named:,}, {test.index:.0f} on Whipple's index, where 100 is no heaping. They are "
        f"taken as rounded, {test.round_to // 2:,} either way."
    )
