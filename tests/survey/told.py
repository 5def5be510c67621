"""Clubs whose members speak of components, drawn in a test."""

from pathlib import Path

import polars as pl
from drawn import drawn

from wornby.survey.answers import Survey, read_survey
from wornby.survey.lives import SurveyLives, survey_lives
from wornby.survey.survey_rules import CLUB, SurveyRule

VANS = "year | body | counted | vans\n2010 | short | 2020 | 300"
HEAD = """
[[file]]
table = "survey"
path = "survey.csv"
[file.columns]
respondent = "who"
model_year = "year"
version = "body"
{extra}
[file.constants]
answered = "2020-12-31"

[[file]]
table = "population"
path = "population.csv"
[file.columns]
model_year = "year"
version = "body"
calendar_year = "counted"
on_the_road = "vans"

[[file]]
table = "component_answers"
path = "{path}"
dates = "day first"
[file.columns]
respondent = "who"
"""
WIDE = '[file.each_component]\nstate = "*"\nwhen = "*, when"\n'
LONG = 'component = "part"\nstate = "state"\nwhen = "when"\nreason = "why"\n'
WORKSHOP = """
[workshop]
name = "Merrow Circle"
currency = "GBP"
records_until = 2020-12-31
pseudonym_key = "test"
[words]
renewed = ["renew*"]
failure = ["leak*"]
degraded = ["noisy"]
preventive = ["as a precaution"]
sound = ["ok"]
negation = ["no"]
routine = ["oil service"]
[words.positions]
all = ["both"]
[words.grades]
genuine = ["genuine"]
[words.grade_of_part_number]
genuine = ["MRW"]
[[component]]
name = "water pump"
words = ["water pump*", "pump"]
[[component]]
name = "thermostat"
words = ["thermostat*", "stat"]
[[component]]
name = "timing belt"
words = ["timing belt*", "belt"]
scale = "distance"
"""
EXTRA = ("odometer", "first_registered", "bought")


def told_survey(folder: Path, *, members: str, parts: str | None = None) -> Survey:
    """Read a club: all answers in the members' own rows, or a row each in `parts`."""
    people = drawn(members)
    given = {"odometer": "miles", "first_registered": "registered", "bought": "bought"}
    extra = [f'{ours} = "{theirs}"' for ours, theirs in given.items() if theirs in people.columns]
    body = pl.lit("short").alias("body")
    people.with_columns(body).write_csv(folder / "survey.csv")
    drawn(VANS).write_csv(folder / "population.csv")
    path = "survey.csv" if parts is None else "parts.csv"
    if parts is not None:
        rows = drawn(parts)
        absent = [pl.lit("").alias(c) for c in ("when", "why") if c not in rows.columns]
        rows.with_columns(absent).write_csv(folder / "parts.csv")
    layout = HEAD.format(extra="\n".join(extra), path=path) + (WIDE if parts is None else LONG)
    (folder / "layout.toml").write_text(layout)
    (folder / "workshop.toml").write_text(WORKSHOP)
    return read_survey(folder)


def told_lives(
    folder: Path, *, members: str, parts: str | None = None, rule: SurveyRule = CLUB
) -> SurveyLives:
    """The lives that a drawn club tells of."""
    return survey_lives(told_survey(folder, members=members, parts=parts), rule=rule)


def one_life(
    folder: Path, member: str, *, component: str = "water pump", rule: SurveyRule = CLUB
) -> tuple[float, float, float] | str:
    """Entry, lower and upper of the one life drawn, to a tenth; or why there is none."""
    header = f"who | year | registered | bought | miles | {component} | {component}, when"
    lives = told_lives(folder, members=f"{header}\nm1 | {member}", rule=rule)
    if lives.lives.is_empty():
        return next(iter({**lives.ledger.set_aside, **lives.ledger.rejected}), "not read")
    entry, lower, upper = lives.lives.select("entry", "lower", "upper").row(0)
    digits = 0 if lives.lives["unit"][0] != "years" else 1
    return round(entry, digits), round(lower, digits), round(upper, digits)
