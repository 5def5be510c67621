"""`wornby survey`: who answered the club, and how long parts last by their answers."""

import argparse
from typing import TYPE_CHECKING

from wornby.commands.asked import show

if TYPE_CHECKING:
    from wornby.reports.answer import Answer
    from wornby.survey.answers import Survey
    from wornby.survey.weighted import WeightedSurvey

SURVEY_ANSWERS = ("respondent", "component", "rule")
"""What `wornby survey --by` may ask for; the last is what hangs on the survey rule."""


def survey_options(survey: argparse.ArgumentParser) -> None:
    """What `survey` may be asked."""
    survey.add_argument(
        "--by",
        choices=SURVEY_ANSWERS,
        default="respondent",
        help="who answered, how long components last by their answers, or what hangs on the rule",
    )
    survey.add_argument(
        "--calendar-year", type=int, help="of the vehicles on the road (default: the last counted)"
    )


def run_survey(asked: argparse.Namespace) -> None:
    """Say who answered the survey and what each answer weighs, or how long parts last by it."""
    from wornby.reports.records_answers import ledger_answer
    from wornby.reports.survey_answers import who_answered_answer
    from wornby.survey.answers import read_survey
    from wornby.survey.weighted import latest_count, weighted_survey

    survey = read_survey(asked.folder)
    year = latest_count(survey) if asked.calendar_year is None else asked.calendar_year
    weighted = weighted_survey(survey, calendar_year=year)
    if asked.by == "respondent":
        ledgers = [*survey.ledgers, weighted.ledger]
        show(asked, [who_answered_answer(weighted), ledger_answer(ledgers)])
    else:
        show(asked, _of_survey(asked, survey, weighted))


def _of_survey(
    asked: argparse.Namespace, survey: "Survey", weighted: "WeightedSurvey"
) -> list["Answer"]:
    from wornby.reports import survey_life_answers as told
    from wornby.reports.records_answers import ledger_answer
    from wornby.survey.lives import survey_lives
    from wornby.survey.survey_rules import CLUB

    if not 0 < asked.confidence < 1:
        raise ValueError(f"--confidence {asked.confidence}: wanted between 0 and 1")
    weights, confidence = weighted.answers, asked.confidence
    if asked.by == "rule":
        return [told.survey_rule_answer(survey, rule=CLUB, weights=weights, confidence=confidence)]
    lives = survey_lives(survey, rule=CLUB, weights=weights)
    answers = [told.survey_life_answer(lives, confidence=confidence)]
    if survey.components is not None and survey.components.unread.height:
        answers.append(told.unread_answer(survey.components))
    return [*answers, ledger_answer([*survey.ledgers, weighted.ledger, lives.ledger])]
