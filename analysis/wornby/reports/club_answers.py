"""The club's letter: findings a member can read, lives by version, what to look for and when."""

from dataclasses import replace
from typing import Any

import polars as pl

from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.reports.amounts import amount, percent
from wornby.reports.answer import Answer
from wornby.reports.club import Club
from wornby.reports.figures import Drawings
from wornby.reports.nonresponse_answers import nonresponse_answer, nonresponse_findings
from wornby.reports.nonresponse_figures import draw_nonresponse
from wornby.reports.sentences import NEVER_CERTIFIED, Sentences, cautions_for
from wornby.reports.survey_answers import who_answered_answer
from wornby.reports.survey_share_answers import (
    BOUNDS,
    TENTH,
    reach_text,
    survey_share_answer,
    within_reach,
)
from wornby.reports.survey_tables import WITHHELD, why_once, with_few_digits
from wornby.survey.design_intervals import weighted_lives, weighted_weibull
from wornby.survey.nonresponse import Readiness
from wornby.survey.replicates import N_REPLICATES, replicate_weights

FEWEST_RENEWED = 5
"""Of a version, before its life is told: with fewer the curve is its form alone."""


def club_share_answer(club: Club, *, age_years: float, distance: float) -> Answer:
    """Each component's share renewed by an age or distance, with the design's interval."""
    answer = survey_share_answer(
        club.lives,
        club.weighted,
        club.published,
        by={"age": age_years, "distance": distance},
        confidence=club.confidence,
        rng=club.rng("shares"),
    )
    return why_once(answer, club.published.thresholds)


def club_version_answer(club: Club) -> Answer:
    """B10 lives by version, where a version's numbers of answers may be published."""
    weights = replicate_weights(club.weighted, rng=club.rng("versions"), n=N_REPLICATES)
    told = [
        _version_row(club, row, _version_life(club, row, weights))
        for row in club.published.by_version.to_dicts()
    ]
    every = pl.DataFrame(told, infer_schema_length=None)
    shown = every.filter(pl.col("text") != WITHHELD)
    if shown.is_empty():
        raise EstimateError("no version has answers enough for a life of its own to be shown")
    frame = every.filter(
        pl.col(name).is_in(shown[name].implode()) for name in ("component", "version")
    )
    most = shown.group_by("version").len().sort("len", "version", descending=[True, False])
    people = (
        frame.pivot(on="version", index="component", values="text")
        .fill_null(WITHHELD)
        .select("component", *most["version"])
    )
    answer = Answer(
        "By when one in ten had been renewed, by version",
        people,
        frame.drop("text"),
        (
            "Each version by itself, so the ranges are wide; where they overlap much, nothing "
            f"says that the versions differ. Ranges hold with {percent(club.confidence)} chance, "
            "by the survey's design. Out of reach: hardly an answer tells of so early a time.",
        ),
        a_row_a_cell=True,
    )
    return why_once(with_few_digits(answer), club.published.thresholds)


def _version_row(club: Club, told: dict[str, Any], life: Estimate | None) -> dict[str, Any]:
    """One version's life, typed and as text; without one, why."""
    cell = {"component": told["component"], "version": told["version"]}
    unit = club.lives.counts[told["component"]].unit
    bounds = {f"b10_{part}": None if life is None else getattr(life, part) for part in BOUNDS}
    reason = (
        f"not shown: withheld, or fewer than {_fewest_renewed(club)} renewed"
        if life is None
        else life.note
    )
    return {
        **cell,
        **bounds,
        "unit": unit,
        "confidence": club.confidence,
        "reason": reason,
        "text": WITHHELD if life is None else reach_text(life),
    }


def _fewest_renewed(club: Club) -> int:
    return max(FEWEST_RENEWED, club.published.thresholds.minimum_cell)


def _version_life(club: Club, told: dict[str, Any], weights: Any) -> Estimate | None:
    """The B10 life of one version's parts; None where its numbers are withheld or too few."""
    if None in (told["renewed"], told["original"]) or told["renewed"] < _fewest_renewed(club):
        return None
    of_version = club.weighted.answers.filter(version=told["version"]).select("respondent")
    lives = club.lives.lives.filter(component=told["component"]).join(of_version, on="respondent")
    if lives.height < club.published.thresholds.minimum_base:
        return None
    part = replace(club.lives, lives=lives)
    try:
        of = weighted_lives(part, told["component"], weighted=club.weighted, weights=weights)
        life = weighted_weibull(of).b_life(TENTH, confidence=club.confidence)
    except EstimateError:
        return None
    return within_reach(life, of.counts)


def look_for_answer(club: Club, shares: Answer) -> Answer | Sentences:
    """What to look for on each component, and from which age or distance on."""
    if not club.catalogue:
        return Sentences(("Left out: no workshop.toml says what to look for.",))
    soonest = shares.frame.sort("weibull_value", descending=True, maintain_order=True)
    known = [row for row in soonest.to_dicts() if row["component"] in club.catalogue]
    rows = [
        {
            "component": row["component"],
            "look_for": club.catalogue[row["component"]].look_for,
            "from": row["b10_lower"],
            "unit": row["unit"],
        }
        for row in known
    ]
    people = [
        {
            "component": row["component"],
            "from": "any age"
            if row["from"] is None
            else f"{amount(row['from'], row['unit'])} {row['unit']}",
            "look for": row["look_for"],
        }
        for row in rows
    ]
    parts = [club.catalogue[row["component"]] for row in known]
    return Answer(
        "What to look for, and from when",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            "From: the earliest time by which one part in ten may have needed renewal, the lower "
            "end of its range; any age where the answers do not tell it. Before it looking does "
            "no harm either.",
            *cautions_for(parts),
            "These are estimates from members' answers. They advise which parts to look at; "
            + NEVER_CERTIFIED,
        ),
    )


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
        rng=club.rng("silence"),
    )


def silence_answer(club: Club, findings: list[Readiness]) -> Answer:
    """How far each finding moves if those without trouble answered less, or more, readily."""
    answer = nonresponse_answer(findings, club.published, confidence=club.confidence)
    return why_once(answer, club.published.thresholds)


def draw_silence(club: Club, findings: list[Readiness]) -> Drawings:
    """The same as pictures, one a component."""
    return draw_nonresponse(findings, club.published.thresholds)
