"""What `wornby survey` asks of shares by an age, of who kept silent, and of the workshop beside."""

import argparse
from typing import TYPE_CHECKING

from wornby.commands.asked import opened

if TYPE_CHECKING:
    from wornby.reports.answer import Answer
    from wornby.survey.lives import SurveyLives
    from wornby.survey.publication import Publication
    from wornby.survey.weighted import WeightedSurvey

FINDINGS = ("share", "nonresponse", "evidence")
"""Shares by an age or distance, the same for each readiness to answer, and the workshop beside."""
BY_AGE_YEARS, BY_DISTANCE = 12.0, 100_000.0


def finding_options(survey: argparse.ArgumentParser) -> None:
    """What a finding is about, and what would change it."""
    survey.add_argument(
        "--age",
        type=float,
        help=f"years, with --by share or nonresponse (default {BY_AGE_YEARS:g})",
    )
    survey.add_argument(
        "--distance",
        type=float,
        help="for what wears by distance, in the unit that workshop.toml names "
        f"(default {BY_DISTANCE:,.0f})",
    )
    survey.add_argument(
        "--members",
        type=float,
        help="how many were asked, with --by nonresponse (default: the vehicles on the road)",
    )
    survey.add_argument(
        "--share",
        type=float,
        help="a share, as 0.25: which readiness to answer would bring a finding to it",
    )


def check_finding_options(asked: argparse.Namespace) -> None:
    """Refuse what does not go with the table asked for."""
    goes_with = {
        "age": ("share", "nonresponse"),
        "distance": ("share", "nonresponse"),
        "members": ("nonresponse",),
        "share": ("nonresponse",),
    }
    for name, tables in goes_with.items():
        given = getattr(asked, name)
        if given is not None and asked.by not in tables:
            raise ValueError(f"--{name} goes with --by {' or '.join(tables)}")
        if given is not None and not 0 < given < float("inf"):
            raise ValueError(f"--{name} {given:g}: wanted above 0")


def survey_finding(
    asked: argparse.Namespace,
    lives: "SurveyLives",
    weighted: "WeightedSurvey",
    published: "Publication",
) -> "Answer":
    """The table that `--by` share, nonresponse or evidence asks for."""
    import numpy as np

    from wornby.reports.evidence_answers import evidence_answer
    from wornby.reports.nonresponse_answers import nonresponse_answer, nonresponse_findings
    from wornby.reports.survey_share_answers import survey_share_answer

    if asked.by == "evidence":
        return evidence_answer(opened(asked), lives, published)
    by = {
        "age": BY_AGE_YEARS if asked.age is None else asked.age,
        "distance": BY_DISTANCE if asked.distance is None else asked.distance,
    }
    rng = np.random.default_rng(asked.seed)
    if asked.by == "share":
        return survey_share_answer(
            lives, weighted, published, by=by, confidence=asked.confidence, rng=rng
        )
    findings = nonresponse_findings(
        lives,
        weighted,
        published,
        by=by,
        asked=asked.members,
        conclusion=asked.share,
        confidence=asked.confidence,
        rng=rng,
    )
    return nonresponse_answer(findings, published, confidence=asked.confidence)
