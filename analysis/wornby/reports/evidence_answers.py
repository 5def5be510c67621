"""The workshop's records and the club's answers of the same component, side by side."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import polars as pl

from wornby.curves.parametric import WeibullCurve
from wornby.curves.profile import b_life
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.observation import LIFE_ENDS, ObservationRule
from wornby.histories.watching import episodes
from wornby.reports.amounts import with_unit
from wornby.reports.answer import Answer
from wornby.reports.club import open_club
from wornby.reports.survey_share_answers import (
    shown_components,
    within_reach,
    worth,
)
from wornby.reports.survey_tables import hiding_note, with_few_digits
from wornby.reports.workshop import Workshop
from wornby.survey.lives import SurveyLives
from wornby.survey.publication import Publication
from wornby.survey.workshop_and_club import TwoSources, first_of_vehicle, two_sources

TENTH = 0.10
LEVEL = 0.10
"""The two are put together above this p-value. One of 0.05 would put together more."""
ANY_RENEWAL = "any renewal"
SOURCES = ("workshop", "club", "together")
BOUNDS = ("value", "lower", "upper")


def evidence_answer(workshop: Workshop, lives: SurveyLives, published: Publication) -> Answer:
    """Each component's B10 life by the workshop's records, by the club's answers, and by both.

    Both are made to speak of the same: a life of the vehicle's original part, or of the first of
    several places, that ends at any renewal. Together only where a test finds them compatible.
    """
    found = compared_sources(workshop, lives, published)
    if not found:
        raise EstimateError("no component that both the workshop and the club tell of")
    confidence = workshop.confidence
    people, rows = [], []
    for component, (one, n_lives, n_worth) in found.items():
        told = {name: _b10(getattr(one, name), confidence) for name in SOURCES}
        people.append(_said(component, one, n_lives, n_worth, told))
        rows.append(_typed(component, one, n_lives, n_worth, told))
    answer = Answer(
        "The workshop's records and the club's answers, side by side",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        _notes(workshop, lives, published),
    )
    return with_few_digits(answer)


def club_evidence_answer(workshop: Workshop, folder: Path | str) -> Answer:
    """The same from the survey in the workshop's own folder; RecordError where it has none."""
    club = open_club(folder, confidence=workshop.confidence, seed=workshop.seed)
    return evidence_answer(workshop, club.lives, club.published)


def compared_sources(
    workshop: Workshop, lives: SurveyLives, published: Publication
) -> dict[str, tuple[TwoSources, float, int]]:
    """Each component that both tell of: the two sources, and the lives that each rests on."""
    made = episodes(workshop.histories, _rule(workshop))
    found = {}
    for component in shown_components(published):
        known = workshop.catalogue.components.get(component)
        if known is None:
            continue
        club = lives.counts[component]
        try:
            ours = first_of_vehicle(
                made, component, unit=club.unit, n_places=max(len(known.positions), 1)
            )
        except EstimateError:
            continue
        compared = two_sources(ours, club, level=LEVEL)
        found[component] = (compared, ours.n_lives, worth(club))
    return found


def _rule(workshop: Workshop) -> ObservationRule:
    """The workshop's own rule, but that any renewal ends a life."""
    return replace(workshop.episodes.rule, life_ends=ANY_RENEWAL)


def _b10(curve: WeibullCurve | None, confidence: float) -> Estimate | None:
    """The B10 life, out of reach where it is the curve's form alone and its limits say nothing."""
    return (
        None
        if curve is None
        else within_reach(b_life(curve, TENTH, confidence=confidence), curve.counts)
    )


def _said(
    component: str,
    one: TwoSources,
    n_lives: float,
    n_worth: int,
    told: dict[str, Estimate | None],
) -> dict[str, str]:
    texts = {name: "" if e is None else _life_text(e) for name, e in told.items()}
    return {
        "component": component,
        "vehicles watched": f"{n_lives:.0f}",
        "answers worth": f"{n_worth}",
        "B10 life, workshop": texts["workshop"],
        "B10 life, club": texts["club"],
        "one life?": verdict(one),
        "B10 life, together": texts["together"],
    }


def _life_text(life: Estimate) -> str:
    return "out of reach" if life.value is None else with_unit(life)


def verdict(one: TwoSources) -> str:
    """Whether both tell of one life, in words."""
    if one.p_value is None:
        return one.reason
    chance = "below 0.001" if one.p_value < 0.001 else f"{one.p_value:.3f}"
    return f"{'compatible' if one.compatible else 'they differ'} (p {chance})"


def _typed(
    component: str,
    one: TwoSources,
    n_lives: float,
    n_worth: int,
    told: dict[str, Estimate | None],
) -> dict[str, Any]:
    return {
        "component": component,
        "vehicles_watched": n_lives,
        "answers_worth": n_worth,
        **{
            f"b10_{name}_{part}": None if e is None else getattr(e, part)
            for name, e in told.items()
            for part in BOUNDS
        },
        "statistic": one.statistic,
        "p_value": one.p_value,
        "compatible": one.compatible,
        "reason": one.reason,
    }


def _notes(workshop: Workshop, lives: SurveyLives, published: Publication) -> tuple[str, ...]:
    return (
        "Both speak of a vehicle's original part, or of the first of its places, until any "
        f"renewal ({', '.join(LIFE_ENDS[ANY_RENEWAL])}), since a survey seldom tells why.",
        f"Workshop: {_rule(workshop).sentence()}. Club: {lives.rule.sentence()}.",
        f"Intervals are {workshop.confidence:.0%} ones, by profile likelihood. "
        "Tested by the likelihood ratio of one common Weibull against two, the club's answers "
        "taken for as many as they are worth (Kish 1965; Rao & Scott 1984). Compatible says that "
        f"p is above {LEVEL:g}: with few lives that is no proof that they are alike. Each "
        f"component is tested by itself: {LEVEL:.0%} of those that are alike are told apart.",
        "Where they differ neither is to be averaged away: owners forget and those with trouble "
        "answer more; the workshop sees who comes, and counts what it was told at the first visit.",
        "A vehicle of the workshop whose owner answers too counts in both: the interval of both "
        "together is then too narrow, at most by a factor of 1.4 where all did.",
        hiding_note(published.thresholds),
    )
