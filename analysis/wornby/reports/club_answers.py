"""The club's letter: findings a member can read, lives by version, what to look for and when."""

from dataclasses import replace
from typing import Any

import polars as pl

from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.reports.amounts import amount, between, percent, stated
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
from wornby.reports.survey_tables import hiding_note
from wornby.survey.design_intervals import weighted_lives, weighted_weibull
from wornby.survey.nonresponse import Readiness
from wornby.survey.replicates import N_REPLICATES, replicate_weights

FEWEST_RENEWED = 5
"""Of a version, before its life is told: with fewer the curve is its form alone."""


def club_share_answer(club: Club, *, age_years: float, distance_mi: float) -> Answer:
    """Each component's share renewed by an age or distance, with the design's interval."""
    return survey_share_answer(
        club.lives,
        club.weighted,
        club.published,
        by={"years": age_years, "miles": distance_mi},
        confidence=club.confidence,
        rng=club.rng("shares"),
    )


def club_findings(shares: Answer) -> Sentences:
    """Each component's finding in one sentence, those that give out soonest first."""
    return Sentences(tuple(row["finding"] for row in _findings(shares)))


def press_answer(shares: Answer) -> Answer:
    """The findings as a table to print: the sentence, its numbers and what they rest on."""
    rows = _findings(shares)
    people = [
        {
            "component": row["component"],
            "finding": row["finding"],
            "rests on": f"worth {row['effective_base']} answers",
        }
        for row in rows
    ]
    return Answer("Findings for the press", pl.DataFrame(people), pl.DataFrame(rows))


def _findings(shares: Answer) -> list[dict[str, Any]]:
    told = [
        {
            "component": row["component"],
            "finding": finding(row),
            "share_renewed": row["weibull_value"],
            "share_lower": row["weibull_lower"],
            "share_upper": row["weibull_upper"],
            "by": row["by"],
            "unit": row["unit"],
            "b10_value": row["b10_value"],
            "b10_lower": row["b10_lower"],
            "b10_upper": row["b10_upper"],
            "confidence": row["confidence"],
            "effective_base": row["effective_base"],
        }
        for row in shares.frame.to_dicts()
    ]
    return sorted(told, key=lambda row: -row["share_renewed"])


def finding(row: dict[str, Any]) -> str:
    """A component's finding in one sentence, with its interval and base.

    >>> row = {"component": "fuel pump", "by": 12.0, "unit": "years", "effective_base": 85}
    >>> row |= {"weibull_value": 0.41, "weibull_lower": 0.29, "weibull_upper": 0.57}
    >>> finding(row | {"b10_value": None}).replace("\\u00a0", " ")
    'Fuel pump: by 12 years 41 % (29 % to 57 %) had been renewed; base: worth 85 answers.'
    """
    name, unit = row["component"], row["unit"]
    share = (
        f"{percent(row['weibull_value'])} "
        f"({percent(row['weibull_lower'])} to {percent(row['weibull_upper'])})"
    )
    tenth = ""
    if row["b10_value"] is not None:
        tenth = (
            f", one in ten by {amount(row['b10_value'], unit)} "
            f"({between(row['b10_lower'], row['b10_upper'], unit)}) {unit}"
        )
    return (
        f"{name[0].upper()}{name[1:]}: by {stated(row['by'], unit)} {share} had been renewed"
        f"{tenth}; base: worth {row['effective_base']} answers."
    )


def club_version_answer(club: Club) -> Answer:
    """B10 lives by version, where a version's numbers of answers may be published."""
    weights = replicate_weights(club.weighted, rng=club.rng("versions"), n=N_REPLICATES)
    rows = []
    for told in club.published.by_version.to_dicts():
        life = _version_life(club, told, weights)
        if life is not None:
            rows.append(
                {
                    "component": told["component"],
                    "version": told["version"],
                    "answers": told["answers"],
                    **{f"b10_{part}": getattr(life, part) for part in BOUNDS},
                    "unit": life.unit,
                    "text": reach_text(life),
                }
            )
    if not rows:
        raise EstimateError("no version has answers enough for a life of its own to be shown")
    frame = pl.DataFrame(rows, infer_schema_length=None)
    people = frame.pivot(on="version", index="component", values="text").fill_null("not shown")
    return Answer(
        "By when one in ten had been renewed, by version",
        people,
        frame.drop("text").with_columns(pl.col(pl.Float64).round_sig_figs(3)),
        (
            "Each version by itself, so the ranges are wide; where they overlap much, nothing "
            f"says that the versions differ. Ranges hold with {percent(club.confidence)} chance, "
            "by the survey's design. Out of reach: hardly an answer tells of so early a time.",
            hiding_note(club.published.thresholds),
        ),
    )


def _version_life(club: Club, told: dict[str, Any], weights: Any) -> Estimate | None:
    """The B10 life of one version's parts; None where its numbers are withheld or too few."""
    least = max(FEWEST_RENEWED, club.published.thresholds.minimum_cell)
    if None in (told["renewed"], told["original"]) or told["renewed"] < least:
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
    known = [row for row in _findings(shares) if row["component"] in club.catalogue]
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


def club_method(club: Club) -> Sentences:
    """How the survey was done and how its answers were taken."""
    weighted = club.weighted
    return Sentences(
        (
            *((club.note,) if club.note else ()),
            f"{weighted.answers.height:,} answers, weighted by model year and version to the "
            f"vehicles on the road in {weighted.calendar_year}; worth "
            f"{weighted.effective_sample_size:.0f} of equal weight. A finding is worth fewer: not "
            "everybody knew of every part.",
            f"How answers were taken: {club.lives.rule.sentence()}.",
            "A part counts as renewed for whatever reason: few answers say whether it had failed. "
            "A share of those who answered, without their vehicles' ages, is no life.",
            "No member's answer, name or words are shown.",
            hiding_note(club.published.thresholds),
        )
    )


def silence(
    club: Club, *, age_years: float, distance_mi: float, members: float | None = None
) -> list[Readiness]:
    """Each finding for every readiness of those without trouble to answer."""
    return nonresponse_findings(
        club.lives,
        club.weighted,
        club.published,
        by={"years": age_years, "miles": distance_mi},
        asked=members,
        conclusion=None,
        confidence=club.confidence,
        rng=club.rng("silence"),
    )


def silence_answer(club: Club, findings: list[Readiness]) -> Answer:
    """How far each finding moves if those without trouble answered less, or more, readily."""
    return nonresponse_answer(findings, club.published, confidence=club.confidence)


def draw_silence(club: Club, findings: list[Readiness]) -> Drawings:
    """The same as pictures, one a component."""
    return draw_nonresponse(findings, club.published.thresholds)
