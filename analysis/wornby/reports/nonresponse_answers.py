"""Answers on who kept silent: how far a finding moves, and what no silence can undo."""

import math
from collections.abc import Mapping
from contextlib import suppress
from copy import deepcopy
from typing import Any

import numpy as np
import polars as pl

from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import scale_of
from wornby.reports.amounts import percent, stated
from wornby.reports.answer import Answer
from wornby.reports.survey_life_answers import few_digits
from wornby.reports.survey_share_answers import share_text, shown_components
from wornby.reports.survey_tables import WITHHELD, hiding_note, with_few_digits
from wornby.survey.lives import SurveyLives
from wornby.survey.nonresponse import (
    FURTHEST,
    TIMES_LESS_READY,
    Readiness,
    SilentBounds,
    check_asked,
    readiness,
)
from wornby.survey.publication import Publication
from wornby.survey.replicates import N_REPLICATES
from wornby.survey.thresholds import Thresholds
from wornby.survey.weighted import WeightedSurvey

TELLING = 0.9
"""Bounds further apart than this rule out hardly anything, and are not told."""


def nonresponse_findings(
    lives: SurveyLives,
    weighted: WeightedSurvey,
    published: Publication,
    *,
    by: Mapping[str, float],
    asked: float | None,
    conclusion: float | None,
    confidence: float,
    rng: np.random.Generator,
) -> list[Readiness]:
    """Each component's finding for every readiness; those whose lives may be published.

    `by` has an age in years and a distance in the unit of the lives, by scale; `asked` is how many
    members were asked, the vehicles on the road where nobody says; `conclusion` is a share. All
    have the replicates that `survey_share_answer` draws from the same generator, so that one
    number has one range. What
    has no curve is left out. EstimateError: nothing to show, or fewer asked than answered.
    """
    whom = float(weighted.on_the_road["on_the_road"].sum()) if asked is None else asked
    check_asked(weighted, whom)
    made = []
    for component in shown_components(published):
        at = by[scale_of(lives.counts[component].unit)]
        # no curve, for want of renewals or of their dates
        with suppress(EstimateError):
            made.append(
                readiness(
                    lives,
                    component,
                    weighted=weighted,
                    by=at,
                    asked=whom,
                    conclusion=conclusion,
                    confidence=confidence,
                    rng=deepcopy(rng),
                    n=N_REPLICATES,
                )
            )
    if not made:
        raise EstimateError("no component has lives enough for a curve that may be shown")
    return made


def nonresponse_answer(
    findings: list[Readiness], published: Publication, *, confidence: float
) -> Answer:
    """How each finding moves with the readiness of those without trouble, and its bounds."""
    thresholds = published.thresholds
    bounded = any(telling(shown_bounds(one.bounds, thresholds)) for one in findings)
    people = [_said(one, confidence) for one in findings]
    rows = [row for one in findings for row in _typed(one, confidence)]
    if bounded:
        people = [
            row | _said_bounds(one, thresholds) for row, one in zip(people, findings, strict=True)
        ]
        each = [one for one in findings for _ in range(one.table.height)]
        rows = [row | _typed_bounds(one, thresholds) for row, one in zip(rows, each, strict=True)]
    answer = Answer(
        "Each finding, by who was readier to answer",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        _notes(findings, published, confidence, bounded=bounded),
        a_row_a_cell=True,
    )
    return with_few_digits(answer)


def _said(one: Readiness, confidence: float) -> dict[str, str]:
    shares = {
        row["times_less_ready"]: Estimate(
            few_digits(row["share"]),
            few_digits(row["lower"]),
            few_digits(row["upper"]),
            confidence,
            "chance",
        )
        for row in one.table.to_dicts()
    }
    told = {"component": one.component, "by": stated(one.by, one.unit)}
    told |= {readiness_text(times): share_text(shares[times]) for times in (1.0,)}
    told |= {
        readiness_text(times): percent(shares[times].value or 0.0)
        for times in TIMES_LESS_READY
        if times != 1
    }
    if one.conclusion is not None:
        told[f"{percent(one.conclusion)} at"] = tipping_text(one)
    return told


def _said_bounds(one: Readiness, thresholds: Thresholds) -> dict[str, str]:
    bounds = shown_bounds(one.bounds, thresholds)
    text = WITHHELD if bounds is None else f"{percent(bounds[0])} to {percent(bounds[1])}"
    return {"whatever the silent would say": text}


def telling(bounds: tuple[float, float] | None) -> bool:
    """Whether bounds that are shown rule out anything to speak of.

    >>> telling((0.0, 0.99)), telling((0.1, 0.75)), telling(None)
    (False, True, False)
    """
    return bounds is not None and bounds[1] - bounds[0] < TELLING


def readiness_text(times_less_ready: float) -> str:
    """A readiness in words: "2 times less ready", "as answered".

    >>> readiness_text(2.0), readiness_text(1 / 3), readiness_text(1.0)
    ('2 times less ready', '3 times readier', 'as answered')
    """
    if times_less_ready == 1:
        return "as answered"
    if times_less_ready > 1:
        return f"{times_less_ready:g} times less ready"
    return f"{1 / times_less_ready:g} times readier"


def tipping_text(one: Readiness) -> str:
    """At which readiness the finding comes to the stated share."""
    if one.tips_at is None:
        return f"no readiness up to {FURTHEST:g} times"
    if one.tips_at >= 1:
        return f"{one.tips_at:.2g} times less ready"
    return f"{1 / one.tips_at:.2g} times readier"


def shown_bounds(bounds: SilentBounds | None, thresholds: Thresholds) -> tuple[float, float] | None:
    """The bounds, outward; None where so few said it that one is told of.

    In steps of whole per cents so wide that the numbers behind them stay open by as many as the
    thresholds ask.
    """
    if bounds is None:
        return 0.0, 1.0
    behind = (bounds.said_failed, bounds.said_working)
    if any(0 < n < thresholds.minimum_cell for n in behind):
        return None
    step = max(math.ceil(100 * thresholds.protection / bounds.asked), 1)
    least, most = math.floor(100 * bounds.least / step), math.ceil(100 * bounds.most / step)
    return step * least / 100, min(step * most / 100, 1.0)


def _typed(one: Readiness, confidence: float) -> list[dict[str, Any]]:
    tipping = (
        {} if one.conclusion is None else {"conclusion": one.conclusion, "tips_at": one.tips_at}
    )
    return [
        {"component": one.component, "by": one.by, "unit": one.unit}
        | row
        | {"confidence": confidence}
        | tipping
        for row in one.table.to_dicts()
    ]


def _typed_bounds(one: Readiness, thresholds: Thresholds) -> dict[str, Any]:
    bounds = shown_bounds(one.bounds, thresholds)
    least, most = bounds or (None, None)
    reason = "" if bounds else f"least and most {WITHHELD}: too few answers behind them"
    return {"share_least": least, "share_most": most, "reason": reason}


def readiness_method(confidence: float) -> tuple[str, ...]:
    """How findings were made again: for a letter to say once, at its end."""
    return (
        "For each readiness to answer the share is made again (Weibull, "
        f"{confidence:.0%} interval of the design): each owner whose part was not renewed stands "
        "for so many more, or fewer, and the answers are raked anew, with the same replicates each "
        "time.",
    )


def _notes(
    findings: list[Readiness], published: Publication, confidence: float, *, bounded: bool
) -> tuple[str, ...]:
    asked = f"{findings[0].asked:,.0f} vehicles asked about"
    notes = [
        "Each share as if owners whose part was not renewed were so many times less ready, or "
        "readier, to answer. No answer tells which of these it is. Vehicles given up because the "
        "part failed never answer: they are as if those without trouble were readier.",
        *readiness_method(confidence),
        "Whatever the silent would say: the share at least and at most, with nothing assumed of "
        f"who did not answer, does not know, or is too young (Manski 1989), of those of {asked} "
        "that are old enough; by distance, of all. The first assumes that all of these still have "
        "the original, the second none."
        if bounded
        else f"Whatever the silent would say, a share may be nearly anything: of {asked} so few "
        "were answered for that the answers by themselves rule out hardly anything.",
        hiding_note(published.thresholds),
    ]
    if findings[0].conclusion is not None:
        share = percent(findings[0].conclusion)
        notes.append(
            f"{share} at: how much less ready, or readier, those without trouble would have to be "
            f"for the share to be {share}; a finding that tips at little is not safe."
        )
    return tuple(notes)
