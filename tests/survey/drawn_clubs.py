"""Clubs drawn at random, for attacks on what they publish."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import polars as pl

from wornby.survey.answers import Survey, read_survey
from wornby.survey.lives import SurveyLives, survey_lives
from wornby.survey.publication import Publication, publishable_numbers
from wornby.survey.survey_rules import CLUB
from wornby.survey.thresholds import Thresholds
from wornby.survey.weighted import WeightedSurvey, weighted_survey

PARTS = ("water pump", "thermostat", "heater matrix")
WORDS = {"renewed": "renewed", "original": "original", "unsure": "don't know", "silent": ""}
LAYOUT = """
[[file]]
table = "survey"
path = "survey.csv"
[file.columns]
respondent = "who"
model_year = "year"
version = "body"
[file.constants]
answered = "2020-12-31"

[[file]]
table = "component_answers"
path = "survey.csv"
[file.columns]
respondent = "who"
[file.each_component]
state = "*"
when = "*, when"

[[file]]
table = "population"
path = "population.csv"
[file.columns]
model_year = "year"
version = "body"
calendar_year = "counted"
on_the_road = "vans"
"""


YEARS = range(2003, 2011)
BODIES = ("body a", "body b", "body c", "body d")


@dataclass(frozen=True)
class DrawnClub:
    """A club, what its members said as the sheet has it, and what it publishes."""

    number: int
    sheet: pl.DataFrame
    weighted: WeightedSurvey
    lives: SurveyLives
    published: Publication


def drawn_sheet(rng: np.random.Generator, club: int) -> pl.DataFrame:
    """Answers of 15 to 120 members on one to three components, of two to eight model years."""
    bodies = BODIES[: int(rng.integers(1, 5))]
    n = int(rng.integers(15, 121))
    sheet = {
        "club": [club] * n,
        "who": [f"club {club} member {k}" for k in range(n)],
        "year": rng.choice(YEARS[: int(rng.integers(2, 9))], n),
        "body": rng.choice(bodies, n, p=rng.dirichlet(np.full(len(bodies), 2.0))),
    }
    asked = PARTS[: int(rng.integers(1, 4))]
    for part in PARTS:
        states = rng.choice(list(WORDS), n, p=rng.dirichlet([4, 3, 1.5, 0.3]))
        states = states if part in asked else np.full(n, "silent")
        when = np.where(states == "renewed", rng.integers(2012, 2021, n).astype(str), "")
        sheet[part] = [WORDS[state] for state in states]
        sheet[f"{part}, when"] = np.where(rng.random(n) < 0.2, "", when)
    return pl.DataFrame(sheet)


def drawn_clubs(folder: Path, seeds: range, thresholds: Thresholds) -> Iterator[DrawnClub]:
    """A club for each seed; their answers are read from one file, as those of one are."""
    sheets = [drawn_sheet(np.random.default_rng(seed), seed) for seed in seeds]
    sheet = pl.concat(sheets).with_columns(respondent=(pl.int_range(pl.len()) + 1).cast(pl.String))
    sheet.drop("respondent").write_csv(folder / "survey.csv")
    vans = [(y, b, 2020, 40 + 97 * (y + n) % 300) for y in YEARS for n, b in enumerate(BODIES)]
    counted = pl.DataFrame(vans, schema=["year", "body", "counted", "vans"], orient="row")
    counted.write_csv(folder / "population.csv")
    (folder / "layout.toml").write_text(LAYOUT)
    whole = read_survey(folder)
    for (seed,), of_one in sheet.group_by("club", maintain_order=True):
        survey = _of(whole, of_one)
        weighted = weighted_survey(survey, calendar_year=2020)
        lives = survey_lives(survey, rule=CLUB, weights=weighted.answers)
        published = publishable_numbers(survey, weighted, lives, thresholds=thresholds)
        yield DrawnClub(int(str(seed)), of_one, weighted, lives, published)


def _of(whole: Survey, sheet: pl.DataFrame) -> Survey:
    """The survey of those on the sheet alone, and the vans of their years and versions."""
    assert whole.components is not None
    who = sheet["respondent"].to_list()
    renewals = whole.components.renewals.filter(pl.col("respondent").is_in(who))
    vans = pl.col("model_year").is_in(sheet["year"].to_list()) & pl.col("version").is_in(
        sheet["body"].to_list()
    )
    return replace(
        whole,
        answers=whole.answers.filter(pl.col("respondent").is_in(who)),
        dates=whole.dates.filter(pl.col("respondent").is_in(who)),
        population=whole.population.filter(vans),
        components=replace(whole.components, renewals=renewals),
    )
