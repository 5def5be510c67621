"""The club's letter: findings a member can read, what to look for and when, and who was silent."""

from dataclasses import replace
from typing import Any

import polars as pl

from wornby.histories.counts import YEARS
from wornby.records.catalogue import Component
from wornby.reports.amounts import amount, joined
from wornby.reports.answer import Answer
from wornby.reports.club import Club
from wornby.reports.figures import Drawings
from wornby.reports.nonresponse_answers import (
    nonresponse_answer,
    nonresponse_findings,
    readiness_method,
)
from wornby.reports.nonresponse_figures import draw_nonresponse
from wornby.reports.sentences import NEVER_CERTIFIED, Sentences, cautions_for
from wornby.reports.survey_answers import who_answered_answer
from wornby.reports.survey_share_answers import share_method, survey_share_answer
from wornby.reports.survey_tables import why_once
from wornby.survey.nonresponse import Readiness

REPLICATES = "shares"
"""The question whose chance draws the shares and their readiness have in common."""
EVERY_SERVICE, ANY_AGE, NOW = "any age, at every service", "any age", "now"
WHY_FROM = {
    EVERY_SERVICE: "At every service: a safety part, whatever the answers say.",
    NOW: "Now: every vehicle on the road is older than the age at which looking would begin.",
    ANY_AGE: "Any age: the answers do not tell from when.",
}


def club_share_answer(club: Club, *, age_years: float, distance: float) -> Answer:
    """Each component's share renewed by an age or distance, with the design's interval."""
    answer = survey_share_answer(
        club.lives,
        club.weighted,
        club.published,
        by={"age": age_years, "distance": distance},
        confidence=club.confidence,
        rng=club.rng(REPLICATES),
    )
    told = why_once(
        answer, club.published.thresholds, elsewhere=share_method(club.lives, club.weighted)
    )
    return _with_places(club, told)


def places_of(club: Club, component: str) -> int:
    """On how many places of a vehicle the component sits; one where no catalogue says."""
    known = club.catalogue.get(component)
    return max(len(known.positions), 1) if known else 1


def how_many(places: int) -> str:
    """A small number in words.

    >>> how_many(2), how_many(12)
    ('two', '12')
    """
    words = ("two", "three", "four", "five", "six")
    return words[places - 2] if 2 <= places <= len(words) + 1 else str(places)


def _with_places(club: Club, answer: Answer) -> Answer:
    """The shares, with the places of which an owner tells as of one."""
    places = [places_of(club, name) for name in answer.frame["component"]]
    notes = [
        joined("" if n == 1 else f"at least one of {how_many(n)}", note)
        for n, note in zip(places, answer.people["note"], strict=True)
    ]
    people = answer.people.with_columns(note=pl.Series(notes, dtype=pl.String))
    frame = answer.frame.with_columns(places=pl.Series(places, dtype=pl.Int64))
    return replace(answer, people=people, frame=frame)


def look_for_answer(club: Club, shares: Answer) -> Answer | Sentences:
    """What to look for on each component, and from which age or distance on.

    The column that says from when is left out where it would say the same of every component.
    """
    if not club.catalogue:
        return Sentences(("Left out: no workshop.toml says what to look for.",))
    soonest = shares.frame.sort("weibull_value", descending=True, maintain_order=True)
    known = [row for row in soonest.to_dicts() if row["component"] in club.catalogue]
    rows = [_look_row(club, row) for row in known]
    people = pl.DataFrame(rows, infer_schema_length=None).select(
        "component", pl.col("when").alias("from"), pl.col("look_for").alias("look for")
    )
    said = {row["when"] for row in rows}
    return Answer(
        "What to look for on each component",
        people.drop("from") if len(said) == 1 else people,
        pl.DataFrame(rows, infer_schema_length=None),
        (
            *_from_notes(said),
            *cautions_for([club.catalogue[row["component"]] for row in known]),
            "These are estimates from members' answers. They advise which parts to look at; "
            + NEVER_CERTIFIED,
        ),
    )


def _look_row(club: Club, share: dict[str, Any]) -> dict[str, Any]:
    """What to look for on one component, from when, and its own cautions."""
    part = club.catalogue[share["component"]]
    return {
        "component": share["component"],
        "look_for": part.look_for,
        "from": None if part.safety else share["b10_lower"],
        "unit": share["unit"],
        "when": _when(club, part, share),
        "cautions": " ".join(cautions_for([part])),
    }


def _when(club: Club, part: Component, share: dict[str, Any]) -> str:
    """From when to look, in words where a number would tell nothing."""
    if part.safety:
        return EVERY_SERVICE
    if share["b10_lower"] is None:
        return ANY_AGE
    youngest = club.weighted.calendar_year - int(max(club.weighted.on_the_road["model_year"]))
    if share["unit"] == YEARS and share["b10_lower"] <= youngest:
        return NOW
    return f"{amount(share['b10_lower'], share['unit'])} {share['unit']}"


def _from_notes(said: set[str]) -> list[str]:
    """What the column means; of one word alone, that it holds for all."""
    words = [note for word, note in WHY_FROM.items() if word in said]
    if said <= set(WHY_FROM):
        return words
    return [
        "From: the earliest time by which one part in ten may have needed renewal, the lower end "
        "of its range. Before it looking does no harm either.",
        *words,
    ]


def club_survey_answer(club: Club) -> Answer:
    """Who answered, against the vehicles on the road."""
    return who_answered_answer(
        club.weighted,
        thresholds=club.published.thresholds,
        ledgers=club.survey.ledgers[:1],
    )


def silence(
    club: Club, *, age_years: float, distance: float, members: float | None = None
) -> list[Readiness]:
    """Each finding for every readiness of those without trouble to answer."""
    return nonresponse_findings(
        club.lives,
        club.weighted,
        club.published,
        by={"age": age_years, "distance": distance},
        asked=members,
        conclusion=None,
        confidence=club.confidence,
        rng=club.rng(REPLICATES),
    )


def silence_answer(club: Club, findings: list[Readiness]) -> Answer:
    """How far each finding moves if those without trouble answered less, or more, readily."""
    answer = nonresponse_answer(findings, club.published, confidence=club.confidence)
    return why_once(answer, club.published.thresholds, elsewhere=readiness_method(club.confidence))


def draw_silence(club: Club, findings: list[Readiness]) -> Drawings:
    """The same as pictures, one a component."""
    return draw_nonresponse(findings, club.published.thresholds)
