"""Clubs whose members' vans are known through and through, and the answers that come back.

A membership of 2,000 vans; pumps wear by age, belts by distance, lives differ by version. A
quarter answers, by model year and version; in one of the worlds those who had trouble with
either part are three times as ready. Years are told as the nearest that ends in 0 or 5, and
distances as the nearest 5,000 miles, by a share of the owners; some do not know; what was
renewed before the van was bought is told as just that.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl
from numpy.typing import NDArray

Array = NDArray[np.float64]

MEMBERS, ANSWERING, SURVEYED_IN = 2_000, 0.25, 2024
MODEL_YEARS = np.arange(2000, 2019)
VERSIONS = {"short": (0.40, 1.10), "long": (0.40, 1.00), "high-roof": (0.20, 0.80)}
"""Each version's share of the club, and its lives as multiples of those below."""
SHAPE, SCALE = {"water pump": 2.8, "timing belt": 3.0}, {"water pump": 14.0, "timing belt": 110_000}
BY = {"water pump": 10.0, "timing belt": 80_000.0}
"""The age, and the distance, by which the share failed is asked."""
MEDIAN_PACE, SD_LOG_PACE = 8_000.0, 0.35
HEAPED_YEARS, HEAPED_MILES = 0.35, 0.60
DOES_NOT_KNOW, WHEN_NOT_KNOWN, BOUGHT_NEW = 0.10, 0.10, 0.52
TROUBLE_ANSWERS = 3.0


@dataclass(frozen=True, eq=False, slots=True)
class Members:
    """The vans of a club at the end of the year of the survey, ages and distances at the answer.

    `lives` has for each component the life of the original part and of the next, on its scale.
    """

    model_year: NDArray[np.int64]
    version: NDArray[np.str_]
    registered: Array
    pace: Array
    bought_age: Array
    lives: dict[str, Array]

    @property
    def age(self) -> Array:
        """Years from registration to the answer."""
        return SURVEYED_IN + 1 - self.registered

    def reached(self, component: str) -> Array:
        """How far a van is on the component's scale, years or miles."""
        return self.age if component == "water pump" else self.age * self.pace

    def renewed(self, component: str) -> NDArray[np.bool_]:
        """Whose original part has failed by the answer."""
        return np.asarray(self.lives[component][:, 0] <= self.reached(component))


def club(rng: np.random.Generator) -> Members:
    """Draw the vans of a club; how many there are of each year and version is always the same."""
    shares = np.array([share for share, _ in VERSIONS.values()])
    version = np.repeat(list(VERSIONS), np.round(MEMBERS * shares).astype(int))
    model_year = np.tile(MODEL_YEARS, MEMBERS // MODEL_YEARS.size + 1)[:MEMBERS]
    longer = np.array([VERSIONS[name][1] for name in version])
    registered = model_year + rng.random(MEMBERS)
    age = SURVEYED_IN + 1 - registered
    later = rng.random(MEMBERS) > BOUGHT_NEW
    return Members(
        model_year=model_year,
        version=version,
        registered=registered,
        pace=MEDIAN_PACE * np.exp(rng.normal(0, SD_LOG_PACE, MEMBERS)),
        bought_age=np.where(later, rng.random(MEMBERS) * age, 0.0),
        lives={
            name: SCALE[name] * longer[:, None] * rng.weibull(SHAPE[name], (MEMBERS, 2))
            for name in SHAPE
        },
    )


def true_share(component: str) -> float:
    """The share of the club's original parts that fail by the age or distance asked about."""
    return sum(
        share
        * -float(np.expm1(-((BY[component] / (SCALE[component] * longer)) ** SHAPE[component])))
        for share, longer in VERSIONS.values()
    )


def answering(members: Members, rng: np.random.Generator, *, trouble: float) -> NDArray[np.bool_]:
    """Who answers: a quarter in all, newer vans and high roofs less, trouble so many times more."""
    ready = np.where(members.version == "high-roof", 0.6, 1.0) * np.where(
        members.version == "short", 1.3, 1.0
    )
    ready = ready * np.linspace(1.5, 0.6, MODEL_YEARS.size)[members.model_year - MODEL_YEARS[0]]
    had = members.renewed("water pump") | members.renewed("timing belt")
    ready = ready * np.where(had, trouble, 1.0)
    return np.asarray(rng.random(MEMBERS) < np.minimum(ready * ANSWERING / ready.mean(), 1.0))


def told(members: Members, component: str, rng: np.random.Generator) -> tuple[list[str], ...]:
    """What owners say of a component: state, when, and when again."""
    far = component == "timing belt"
    first = members.lives[component][:, 0]
    second = first + members.lives[component][:, 1]
    reached, bought = members.reached(component), members.bought_age
    bought = bought * members.pace if far else bought
    heaped = rng.random(MEMBERS) < (HEAPED_MILES if far else HEAPED_YEARS)
    unsure = rng.random(MEMBERS) < DOES_NOT_KNOW
    forgot = rng.random(MEMBERS) < WHEN_NOT_KNOWN
    state = np.where(unsure, "don't know", np.where(first <= reached, "renewed", "original"))
    whens = []
    for at in (first, second):
        step = np.where(heaped, 5_000, 1_000) if far else np.where(heaped, 5, 1)
        exact = at if far else np.floor(members.registered + at)
        said = (step * np.round(exact / step)).astype(int)
        said = said if far else np.minimum(said, SURVEYED_IN)
        text = np.array([f"at {x:,} miles" if far else str(x) for x in said.tolist()])
        text = np.where(forgot, "don't know", np.where(at < bought, "before I had it", text))
        whens.append(np.where((at <= reached) & ~unsure, text, "").tolist())
    return state.tolist(), whens[0], whens[1]


def write_club(folder: Path, members: Members, rng: np.random.Generator, *, trouble: float) -> None:
    """Write the survey as a form service would, and the club's own totals beside it."""
    answered = answering(members, rng, trouble=trouble)
    columns = {
        "respondent": [f"m{n}" for n in range(MEMBERS)],
        "model_year": members.model_year,
        "version": members.version,
        "odometer_mi": np.round(members.age * members.pace, -3).astype(int),
        "bought": np.floor(members.registered + members.bought_age).astype(int),
    }
    for name in SHAPE:
        state, when, again = told(members, name, rng)
        columns |= {name: state, f"{name}, when": when, f"{name}, again": again}
    pl.DataFrame(columns).filter(pl.Series(answered)).write_csv(folder / "survey.csv")
    totals = pl.DataFrame({"model_year": members.model_year, "version": members.version})
    counted = totals.group_by("model_year", "version").agg(vans=pl.len())
    counted.with_columns(calendar_year=pl.lit(SURVEYED_IN)).write_csv(folder / "population.csv")
    (folder / "layout.toml").write_text(LAYOUT)
    (folder / "workshop.toml").write_text(WORKSHOP)


LAYOUT = """
[[file]]
table = "survey"
path = "survey.csv"
distance_unit = "mi"
[file.columns]
respondent = "respondent"
model_year = "model_year"
version = "version"
odometer = "odometer_mi"
bought = "bought"
[file.constants]
answered = "2024-12-31"

[[file]]
table = "component_answers"
path = "survey.csv"
distance_unit = "mi"
[file.columns]
respondent = "respondent"
[file.each_component]
state = "*"
when = "*, when"
again = "*, again"

[[file]]
table = "population"
path = "population.csv"
[file.columns]
model_year = "model_year"
version = "version"
calendar_year = "calendar_year"
on_the_road = "vans"
"""
WORKSHOP = """
[workshop]
name = "Merrow Circle"
currency = "GBP"
records_until = 2024-12-31
pseudonym_key = "study"
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
words = ["water pump*"]
[[component]]
name = "timing belt"
words = ["timing belt*"]
scale = "distance"
"""
