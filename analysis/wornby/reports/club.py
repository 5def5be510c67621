"""A club's survey opened: its answers taken through every stage, once for the whole letter."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from wornby.records.catalogue import Component
from wornby.records.catalogue_file import read_catalogue
from wornby.records.conventions import DATES_UNSAID
from wornby.survey.answers import Survey, read_survey
from wornby.survey.lives import SurveyLives, survey_lives
from wornby.survey.publication import Publication, publishable_numbers
from wornby.survey.survey_rules import CLUB
from wornby.survey.thresholds import read_club_name, read_thresholds
from wornby.survey.weighted import WeightedSurvey, latest_count, weighted_survey
from wornby.survey.when_answered import months_answered


@dataclass(frozen=True, eq=False, slots=True)
class Club:
    """Answers, their weights, the lives they tell of, and what of all that may be published.

    `catalogue` has the components of workshop.toml and `note` its note, both empty where the club
    keeps no such file; `name` is the club's own, `answered` says when members did, both empty
    where no file says it or too few did.
    """

    survey: Survey
    weighted: WeightedSurvey
    lives: SurveyLives
    published: Publication
    catalogue: Mapping[str, Component]
    confidence: float
    seed: int
    note: str = ""
    name: str = ""
    answered: str = ""

    def rng(self, question: str) -> np.random.Generator:
        """A generator that gives the same numbers whenever the same question is asked."""
        return np.random.default_rng([self.seed, *question.encode()])


def open_club(
    folder: Path | str, *, confidence: float, seed: int, calendar_year: int | None = None
) -> Club:
    """Read a folder's survey and weigh it to the vehicles on the road, by default as last counted.

    RecordError and EstimateError as `read_survey`, `weighted_survey` and `publishable_numbers`.
    """
    path = Path(folder)
    thresholds, survey = read_thresholds(path), read_survey(path)
    year = latest_count(survey) if calendar_year is None else calendar_year
    weighted = weighted_survey(survey, calendar_year=year)
    lives = survey_lives(survey, rule=CLUB, weights=weighted.answers)
    written = path / "workshop.toml"
    catalogue = read_catalogue(written) if written.is_file() else None
    date_format = DATES_UNSAID if catalogue is None else catalogue.date_format
    return Club(
        survey=survey,
        weighted=weighted,
        lives=lives,
        published=publishable_numbers(survey, weighted, lives, thresholds=thresholds),
        catalogue={} if catalogue is None else catalogue.components,
        confidence=confidence,
        seed=seed,
        note="" if catalogue is None else catalogue.note,
        name=read_club_name(path),
        answered=months_answered(survey, thresholds, date_format=date_format),
    )
