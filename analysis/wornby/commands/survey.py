"""`wornby survey`: who answered the club, and how long parts last by their answers."""

import argparse
from typing import TYPE_CHECKING

from wornby.commands.asked import show
from wornby.commands.survey_findings import (
    FINDINGS,
    check_finding_options,
    finding_options,
    survey_finding,
)

if TYPE_CHECKING:
    from wornby.reports.answer import Answer
    from wornby.survey.answers import Survey
    from wornby.survey.lives import SurveyLives
    from wornby.survey.thresholds import Thresholds
    from wornby.survey.weighted import WeightedSurvey

SURVEY_ANSWERS = ("respondent", "component", "version", "model-year", "curve", "rule", *FINDINGS)
"""What `wornby survey --by` may ask for; "rule" is what hangs on the survey rule."""
OF_NUMBERS = {"version": "version_count_answer", "model-year": "model_year_count_answer"}


def survey_options(survey: argparse.ArgumentParser) -> None:
    """What `survey` may be asked."""
    survey.add_argument(
        "--by",
        choices=SURVEY_ANSWERS,
        default="respondent",
        help="who answered, how long components last by their answers, what was said by version "
        "or model year, curves, what hangs on the rule, shares by an age, how they move if those "
        "without trouble answer less, or the workshop's records beside them",
    )
    finding_options(survey)
    survey.add_argument(
        "--calendar-year", type=int, help="of the vehicles on the road (default: the last counted)"
    )
    survey.add_argument(
        "--desk",
        action="store_true",
        help="also where every row went and what was not understood: for the club's own desk, "
        "not to be published",
    )


def run_survey(asked: argparse.Namespace) -> None:
    """Say who answered the survey and what each answer weighs, or how long parts last by it."""
    from wornby.reports.survey_answers import who_answered_answer
    from wornby.survey.answers import read_survey
    from wornby.survey.thresholds import read_thresholds
    from wornby.survey.weighted import latest_count, weighted_survey

    if not 0 < asked.confidence < 1:
        raise ValueError(f"--confidence {asked.confidence}: wanted between 0 and 1")
    check_finding_options(asked)
    thresholds = read_thresholds(asked.folder)
    survey = read_survey(asked.folder)
    year = latest_count(survey) if asked.calendar_year is None else asked.calendar_year
    weighted = weighted_survey(survey, calendar_year=year)
    if asked.by == "respondent":
        of_answers = survey.ledgers[:1]
        answers = [who_answered_answer(weighted, thresholds=thresholds, ledgers=of_answers)]
        show(asked, [*answers, *(_at_the_desk(survey, weighted) if asked.desk else [])])
    else:
        show(asked, _of_survey(asked, survey, weighted, thresholds))


def _of_survey(
    asked: argparse.Namespace,
    survey: "Survey",
    weighted: "WeightedSurvey",
    thresholds: "Thresholds",
) -> list["Answer"]:
    from wornby.reports import survey_tables
    from wornby.reports.survey_life_answers import survey_life_answer
    from wornby.reports.survey_rule_answers import survey_rule_answer
    from wornby.survey.lives import survey_lives
    from wornby.survey.publication import publishable_numbers
    from wornby.survey.survey_rules import CLUB

    weights, confidence = weighted.answers, asked.confidence
    lives = survey_lives(survey, rule=CLUB, weights=weights)
    if asked.by == "rule":
        answer = survey_rule_answer(
            survey, rule=CLUB, weights=weights, confidence=confidence, thresholds=thresholds
        )
    else:
        published = publishable_numbers(survey, weighted, lives, thresholds=thresholds)
        if asked.by == "component":
            answer = survey_life_answer(lives, published, confidence=confidence)
        elif asked.by in FINDINGS:
            answer = survey_finding(asked, lives, weighted, published)
        elif asked.by == "curve":
            answer = survey_tables.survey_curve_answer(lives, published)
        else:
            answer = getattr(survey_tables, OF_NUMBERS[asked.by])(published)
    return [
        survey_tables.with_few_digits(answer),
        *(_at_the_desk(survey, weighted, lives) if asked.desk else []),
    ]


def _at_the_desk(
    survey: "Survey", weighted: "WeightedSurvey", lives: "SurveyLives | None" = None
) -> list["Answer"]:
    """Where every row went, and what was not understood: with numbers that may be small."""
    from wornby.reports.records_answers import ledger_answer
    from wornby.reports.survey_life_answers import unread_answer
    from wornby.reports.told_answers import renewals_told_answer

    unread = [] if survey.components is None else [unread_answer(survey.components)]
    told = [] if survey.components is None else [renewals_told_answer(survey.components)]
    ledgers = [*survey.ledgers, weighted.ledger, *([] if lives is None else [lives.ledger])]
    return [*told, *(one for one in unread if one.people.height), ledger_answer(ledgers)]
