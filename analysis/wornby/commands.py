"""What each command does once its words are understood."""

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wornby.reports.answer import Answer
    from wornby.reports.workshop import Workshop
    from wornby.survey.answers import Survey
    from wornby.survey.weighted import WeightedSurvey

HORIZON_YEARS = 3.0
SERVICE_YEARS = 5.0


def show(asked: argparse.Namespace, answers: Sequence["Answer"]) -> None:
    """Print the answers as tables for people, or as JSON for programs."""
    if asked.json:
        print("[" + ",\n".join(answer.as_json() for answer in answers) + "]")
    else:
        print("\n\n".join(repr(answer) for answer in answers))


def opened(asked: argparse.Namespace) -> "Workshop":
    """The folder's workshop, once the options that all commands share are seen to make sense."""
    from wornby.reports.workshop import open_workshop

    if not 0 < asked.confidence < 1:
        raise ValueError(f"--confidence {asked.confidence}: wanted between 0 and 1")
    if asked.seed < 0:
        raise ValueError(f"--seed {asked.seed}: wanted 0 or more")
    return open_workshop(asked.folder, confidence=asked.confidence, seed=asked.seed)


def run_read(asked: argparse.Namespace) -> None:
    """Say what the records hold, what was not used and why."""
    import polars as pl

    from wornby.records.lives import holds_lives, read_lives
    from wornby.reports import records_answers as told
    from wornby.survey.answers import holds_survey, read_survey

    if holds_lives(asked.folder):
        lives = read_lives(asked.folder)
        show(
            asked,
            [
                told.ledger_answer([lives.ledger]),
                told.problem_answer(lives.problems, at_the_door=True),
            ],
        )
        return
    workshop = opened(asked)
    records = workshop.records
    survey = read_survey(asked.folder) if holds_survey(asked.folder) else None
    problems = [records.problems] if survey is None else [records.problems, survey.problems]
    ledgers = (*workshop.ledgers, *(() if survey is None else survey.ledgers))
    show(
        asked,
        [
            told.coverage_answer(records),
            told.ledger_answer(ledgers),
            told.problem_answer(pl.concat(problems), at_the_door=True),
            told.unplaced_answer(records.unplaced),
        ],
    )


LIFE_ANSWERS = {
    "component": "life_answer",
    "renewed": "renewed_life_answer",
    "few": "few_failures_answer",
    "grade": "grade_answer",
    "version": "version_answer",
    "effect": "effect_answer",
    "rule": "rule_answer",
    "fit": "fit_answer",
    "scale": "scale_answer",
    "odometer": "distance_doubt_answer",
    "pace": "pace_answer",
    "interval": "interval_answer",
    "band": "band_answer",
    "ending": "ending_answer",
    "comeback": "comeback_answer",
    "recurrence": "recurrence_answer",
    "trend": "trend_answer",
}
"""What `wornby life --by` may ask for, and the public name that answers."""
OF_POPULATION = {"population": "population_answer", "reconciliation": "reconciliation_answer"}
"""What needs the number of vehicles on the road besides."""
OF_ONE_COMPONENT = {"rule": "sensitivity_answer", "fit": "rivals_answer"}
"""What is asked in full of the one that --component names; of population, the rates by age."""


def run_life(asked: argparse.Namespace) -> None:
    """Say by what age or distance each component fails."""
    import wornby
    from wornby.records.lives import holds_lives
    from wornby.reports.life_answers import ready_lives_answer

    if holds_lives(asked.folder):
        if asked.by != "component":
            raise ValueError(f"--by {asked.by}: ready-made lives know of components only")
        lives = wornby.read_lives(asked.folder)
        show(asked, [ready_lives_answer(lives.table, confidence=asked.confidence)])
        return
    named = (*OF_ONE_COMPONENT, "population")
    if asked.component is not None and asked.by not in named:
        raise ValueError(f"--component goes with --by {', '.join(named)}")
    if asked.by in OF_POPULATION:
        show(asked, _of_population(asked))
    elif asked.by == "cost":
        show(asked, [wornby.grade_cost_answer(opened(asked), service_years=SERVICE_YEARS)])
    elif asked.component is not None:
        answer = getattr(wornby, OF_ONE_COMPONENT[asked.by])
        show(asked, [answer(opened(asked), asked.component)])
    else:
        show(asked, [getattr(wornby, LIFE_ANSWERS[asked.by])(opened(asked))])


def _of_population(asked: argparse.Namespace) -> list["Answer"]:
    import wornby

    population, workshop = wornby.read_population(asked.folder), opened(asked)
    if asked.component is None:
        return [getattr(wornby, OF_POPULATION[asked.by])(workshop, population)]
    return [
        wornby.population_rate_answer(workshop, population, asked.component, by=by)
        for by in ("age", "calendar year")
    ]


RENEW_ANSWERS = {"age": "renewal_age_answer", "policy": "policy_answer"}
"""What `wornby renew --by` may ask for, and the public name that answers."""


def run_renew(asked: argparse.Namespace) -> None:
    """Say when to renew, and what else while a job is open."""
    import wornby
    from wornby.reports import while_open_answers as told
    from wornby.reports.ramp import Ramp, while_open_advice
    from wornby.reports.workshop import pace_of

    only_with_group = ("age", "failed", "horizon", "miles_per_year", "degraded", "renewed")
    given = [name for name in only_with_group if getattr(asked, name) not in (None, [])]
    if asked.group is None and given:
        raise ValueError(f"--{given[0].replace('_', '-')} goes with --group")
    if asked.group is not None and asked.age is None:
        raise ValueError("--group needs --age, the age of the vehicle in years")
    if asked.group is not None and asked.by != "age":
        raise ValueError(f"--by {asked.by} asks of all components; --group of one access")
    workshop = opened(asked)
    if asked.group is None:
        show(asked, [getattr(wornby, RENEW_ANSWERS[asked.by])(workshop)])
        return
    pace = pace_of(workshop) if asked.miles_per_year is None else asked.miles_per_year
    horizon = HORIZON_YEARS if asked.horizon is None else asked.horizon
    ramp = Ramp(asked.age, pace, horizon, years_renewed(asked.renewed))
    advice = while_open_advice(
        workshop, asked.group, ramp, failed=asked.failed, degraded=frozenset(asked.degraded)
    )
    show(asked, [told.bundle_answer(workshop, advice), told.card_answer(workshop, advice)])


def years_renewed(given: Sequence[str]) -> dict[str, float]:
    """COMPONENT=YEARS pairs as typed."""
    told = {}
    for pair in given:
        name, _, years = pair.rpartition("=")
        try:
            told[name.strip()] = float(years)
        except ValueError:
            raise ValueError(f"--renewed {pair!r}: wanted COMPONENT=YEARS") from None
    return told


def run_price(asked: argparse.Namespace) -> None:
    """Say which jobs to offer at a fixed price."""
    from wornby.reports.price_answers import price_answer

    show(asked, [price_answer(opened(asked))])


MONTHS = (3, 6, 12)
EXPECT_ANSWERS = ("failure", "stock")


def run_expect(asked: argparse.Namespace) -> None:
    """Say what failures and jobs to expect, or what to keep on the shelf for them."""
    import wornby

    if asked.by == "stock":
        if asked.months is not None:
            raise ValueError("--months goes with --by failure; stock looks a lead time ahead")
        show(asked, [wornby.stock_answer(opened(asked))])
        return
    months = MONTHS[-1] if asked.months is None else asked.months
    show(asked, [wornby.expected_answer(opened(asked), months=months)])


SURVEY_ANSWERS = ("respondent", "component", "rule")
"""What `wornby survey --by` may ask for; the last is what hangs on the survey rule."""


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


def run_report(asked: argparse.Namespace) -> None:
    """Render a report as a page."""
    from wornby.reports.render import render_report

    path = render_report(asked.name, asked.folder, asked.to)
    print(f"wrote {path}")
