"""Answers on the share of parts renewed by an age or distance, with the design's intervals."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import polars as pl

from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import YEARS, Counts, scale_of
from wornby.reports.amounts import joined, percent, stated, with_unit
from wornby.reports.answer import Answer
from wornby.reports.survey_life_answers import FAR_APART, ROUNDED_TO, few_digits
from wornby.reports.survey_tables import hiding_note, with_few_digits
from wornby.survey.design_intervals import (
    FEWEST_TOLD,
    STEPS,
    TOO_EARLY,
    WeightedLives,
    WeightedWeibull,
    told_by,
    turnbull_share,
    weighted_lives,
    weighted_weibull,
)
from wornby.survey.lives import SurveyLives
from wornby.survey.publication import Publication
from wornby.survey.replicates import N_REPLICATES, replicate_weights
from wornby.survey.weighted import WeightedSurvey

TENTH = 0.10
BOUNDS = ("value", "lower", "upper")
TOO_FEW = "too few early answers to tell"
ON_THE_CURVE = "rests on the curve chosen"
"""Said of a share that the same answers, without a curve, do not bear out or cannot tell."""


def survey_share_answer(
    lives: SurveyLives,
    weighted: WeightedSurvey,
    published: Publication,
    *,
    by: Mapping[str, float],
    confidence: float,
    rng: np.random.Generator,
) -> Answer:
    """Each component's share renewed by an age or distance, and when one in ten was, as told.

    `by` has an age in years and a distance in the unit of the lives, by scale. Limits are
    those of the survey's design: of the answers that chance might have sent, raked each time. Only
    components whose lives may be published are shown.
    """
    weights = replicate_weights(weighted, rng=rng, n=N_REPLICATES)
    told = {row["component"]: row for row in published.by_component.to_dicts()}
    rows, people, refused = [], [], []
    for component in shown_components(published):
        of = weighted_lives(lives, component, weighted=weighted, weights=weights)
        try:
            found = _found(of, by[scale_of(of.counts.unit)], confidence)
        except EstimateError:
            refused.append(component)
            continue
        rows.append(_typed(component, told[component], of, by[scale_of(of.counts.unit)], found))
        people.append(_said(component, told[component], of, by[scale_of(of.counts.unit)], found))
    if not rows:
        raise EstimateError("no component has lives enough for a curve that may be shown")
    answer = Answer(
        "Shares renewed by an age or distance, as owners tell",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        _notes(lives, weighted, published, refused),
    )
    return with_few_digits(answer)


def shown_components(published: Publication) -> list[str]:
    """The components whose lives may be published."""
    names: list[str] = published.by_component.filter("lives_shown")["component"].to_list()
    return names


def _steps(lives: SurveyLives) -> str:
    """On what steps Turnbull's curve is drawn, in the units that the lives have."""
    units = sorted({counts.unit for counts in lives.counts.values()} - {YEARS})
    return " or ".join(["half a year", *(stated(STEPS[unit], unit) for unit in units)])


def _found(of: WeightedLives, at: float, confidence: float) -> dict[str, Estimate]:
    """Share by Weibull and without a form, and B10; EstimateError where there is no curve."""
    fitted: WeightedWeibull = weighted_weibull(of)
    found = {
        "weibull": fitted.share_failed(at, confidence=confidence),
        "turnbull": turnbull_share(of, at, confidence=confidence),
        "b10": within_reach(fitted.b_life(TENTH, confidence=confidence), of.counts),
    }
    return {name: _rounded(estimate) for name, estimate in found.items()}


def _rounded(estimate: Estimate) -> Estimate:
    """To few digits before anything is written, lest sentence and table round apart."""
    value, lower, upper = (few_digits(getattr(estimate, part)) for part in BOUNDS)
    return replace(estimate, value=value, lower=lower, upper=upper)


def worth(counts: Counts) -> int:
    """How many answers of equal weight these are worth, too roughly to tell of one."""
    return ROUNDED_TO * round(counts.n_lives / ROUNDED_TO)


def within_reach(life: Estimate, counts: Counts) -> Estimate:
    """The life; out of reach where it is the curve's form alone and its limits say nothing."""
    value, lower, upper = (float(getattr(life, part)) for part in BOUNDS)
    if told_by(counts, value) < FEWEST_TOLD and upper > FAR_APART * lower:
        return Estimate(None, None, None, life.confidence, life.unit, TOO_EARLY)
    return life


def reach_text(life: Estimate) -> str:
    """A life with its interval, or that too few answers tell of so early a time."""
    return TOO_FEW if life.value is None else with_unit(life)


def rests_on_the_curve(found: Mapping[str, Estimate]) -> bool:
    """Whether the share lies outside the range that the answers leave without a curve.

    So too where they are too few to tell without one.
    """
    share, alone = found["weibull"].value, found["turnbull"]
    if share is None or alone.lower is None or alone.upper is None:
        return True
    return not alone.lower <= share <= alone.upper


def _typed(
    component: str,
    told: Mapping[str, Any],
    of: WeightedLives,
    at: float,
    found: Mapping[str, Estimate],
) -> dict[str, Any]:
    return {
        "component": component,
        "by": at,
        "unit": of.counts.unit,
        "share_renewed_at_the_answer": told["share"],
        "effective_base": worth(of.counts),
        **{f"{name}_{part}": getattr(e, part) for name, e in found.items() for part in BOUNDS},
        "confidence": found["b10"].confidence,
        "rests_on_the_curve": rests_on_the_curve(found),
        "note": joined(*(e.note for e in found.values())),
    }


def _said(
    component: str,
    told: Mapping[str, Any],
    of: WeightedLives,
    at: float,
    found: Mapping[str, Estimate],
) -> dict[str, str]:
    sure = f"{found['b10'].confidence:.0%}"
    return {
        "component": component,
        "answers worth": f"{worth(of.counts)}",
        "renewed when asked": "not shown" if told["share"] is None else percent(told["share"]),
        "by": stated(at, of.counts.unit),
        f"renewed by then ({sure} interval)": share_text(found["weibull"]),
        "by the answers alone": share_text(found["turnbull"]),
        "one in ten by": reach_text(found["b10"]),
        "note": joined(
            ON_THE_CURVE if rests_on_the_curve(found) else "",
            *(e.note for e in found.values() if e.value is not None),
        ),
    }


def share_text(estimate: Estimate) -> str:
    """A share with its interval: "12 % (8 % to 17 %)"; or that too few answers tell of it.

    >>> share_text(Estimate(0.12, 0.08, 0.17, 0.9, "chance")).replace("\\u00a0", " ")
    '12 % (8 % to 17 %)'
    """
    if estimate.value is None or estimate.lower is None or estimate.upper is None:
        return TOO_FEW
    return f"{percent(estimate.value)} ({percent(estimate.lower)} to {percent(estimate.upper)})"


def share_method(lives: SurveyLives, weighted: WeightedSurvey) -> tuple[str, ...]:
    """How shares and lives were come by: for a letter to say once, at its end."""
    return (
        f"How answers were taken: {lives.rule.sentence()}.",
        f"Answers are weighted to the vehicles on the road in {weighted.calendar_year}. Answers "
        "worth: so many of equal weight would tell as much (Kish 1965). Shares and when one in ten "
        "was renewed (B10 life): a Weibull curve. Limits are those of the survey's design: the "
        f"scatter of {N_REPLICATES} replicates, each raked anew (Mammen 1993; Beaumont & Patak "
        f"2012). By the answers alone: Turnbull's curve (1976) on steps of {_steps(lives)}, falls "
        "spread evenly where nothing says when; it needs "
        f"{FEWEST_TOLD:.0f} answers that tell of a time up to then.",
    )


def _notes(
    lives: SurveyLives, weighted: WeightedSurvey, published: Publication, refused: list[str]
) -> tuple[str, ...]:
    notes = [
        '"Renewed when asked" is what clubs print. It hangs on how old the vehicles are and is '
        "neither a rate nor a life; the share by an age is of all parts that reach that age.",
        "A share comes of a smooth curve laid through the answers; beside it stands what the "
        f'answers say without one. "{ON_THE_CURVE[0].upper()}{ON_THE_CURVE[1:]}": the two do not '
        "agree, or too few early answers tell; such a share is not to be relied on.",
        "A vehicle that answers has lasted until then. That shortens or lengthens no life, unless "
        "vehicles are given up because this part fails: such owners never answer, which is as if "
        "owners with trouble were less ready to.",
        *share_method(lives, weighted),
        hiding_note(published.thresholds),
    ]
    if refused:
        notes.append(f"No curve, for want of renewals or of their dates: {', '.join(refused)}.")
    return tuple(notes)
