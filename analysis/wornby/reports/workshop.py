"""A workshop opened: its records taken through every stage, once for all answers."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

import numpy as np
import polars as pl

from wornby.curves.components import ComponentCurve, component_curves, curve_of
from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.book import vehicles_in_the_book
from wornby.errors import EstimateError
from wornby.histories.counts import YEARS
from wornby.histories.fitments import Histories, histories
from wornby.histories.observation import ObservationRule, rule_named
from wornby.histories.watching import Episodes, episodes
from wornby.ledger import Ledger
from wornby.records.catalogue import Catalogue, Component
from wornby.records.reading import Records, read_records
from wornby.reports.yearly_pace import Pace

N_DRAWS = 1000
LONGEST_QUESTION = 500
"""Bytes; a longer one is hashed first, for a generator takes long to start from many numbers."""
NO_ORIGINALS = (
    "Where no inspection says which parts are original, and you take them to be, write "
    'observation_rule = "first visit, taken as original" under [workshop] in workshop.toml'
)
ANY_GRADE = "any grade"
RENEWAL_GRADE = "genuine"
"""The grade that advice on renewal takes a new part to be."""
LEAST_MEDIAN_YEARS = 1 / 12
"""A curve by which half of the new parts fail within a month is not believed of any part."""


@dataclass(frozen=True, eq=False, slots=True)
class Workshop:
    """Records, histories, episodes and curves of one folder.

    `original` has a curve for each component with such fitments; `renewed` the same for each
    part grade, and for all of them together under `ANY_GRADE`. Randomness starts from `seed`,
    the same for the same question.
    """

    records: Records
    histories: Histories
    episodes: Episodes
    original: dict[str, ComponentCurve]
    renewed: dict[str, dict[str, ComponentCurve]]
    confidence: float
    seed: int

    @property
    def catalogue(self) -> Catalogue:
        """What workshop.toml says."""
        return self.records.catalogue

    @property
    def ledgers(self) -> tuple[Ledger, ...]:
        """The account of every stage, in order."""
        return (*self.records.ledgers, self.histories.ledger, self.episodes.ledger)

    def rng(self, question: str) -> np.random.Generator:
        """A generator that gives the same numbers whenever the same question is asked."""
        asked = question.encode()
        if len(asked) > LONGEST_QUESTION:
            asked = sha256(asked).digest()
        return np.random.default_rng([self.seed, *asked])


def open_workshop(folder: Path | str, *, confidence: float, seed: int) -> Workshop:
    """Take a folder of records through every stage up to the curves."""
    return workshop_of(read_records(Path(folder)), confidence=confidence, seed=seed)


def workshop_of(records: Records, *, confidence: float, seed: int) -> Workshop:
    """Take records that were read through every later stage up to the curves."""
    made = histories(records)
    watched = episodes(made, rule_named(records.catalogue.observation_rule))
    units = records.catalogue.component_units
    by_grade = {
        str(grade): lives
        for (grade,), lives in watched.table.partition_by("grade", as_dict=True).items()
    }
    return Workshop(
        records=records,
        histories=made,
        episodes=watched,
        original=component_curves(watched, units, origin="original", confidence=confidence),
        renewed={
            grade: component_curves(
                replace(watched, table=lives), units, origin="renewed", confidence=confidence
            )
            for grade, lives in {**by_grade, ANY_GRADE: watched.table}.items()
        },
        confidence=confidence,
        seed=seed,
    )


def curves_under(
    workshop: Workshop, rule: ObservationRule, components: Sequence[str]
) -> dict[str, ComponentCurve]:
    """The curves of original parts as they would be under another observation rule."""
    units = {name: workshop.catalogue.component_units[name] for name in components}
    watched = episodes(workshop.histories, rule)
    return component_curves(watched, units, origin="original", confidence=workshop.confidence)


def life_curve(
    workshop: Workshop, component: str, *, origin: str, grade: str
) -> tuple[ComponentCurve, str]:
    """The curve that a fitment of this origin and grade is taken to live by, and a note.

    A renewed part takes the curve of its grade; where too few genuine ones have failed they are
    taken to live as the original did, on a curve of both: originals seldom tell how parts do when
    new, since they were old when they came. A grade that was never watched lives as all renewed.
    """
    original = workshop.original.get(component)
    named = ANY_GRADE if grade == "unknown" else grade
    of_grade, of_any = (
        workshop.renewed.get(name, {}).get(component) for name in (named, ANY_GRADE)
    )
    few = of_grade is None or of_grade.weibull is None
    choices: list[tuple[ComponentCurve | None, str]] = [(original, "")]
    if origin == "renewed" and grade == RENEWAL_GRADE and few:
        borrowed = f"{component}: few renewed ones have failed, so taken to live as the original"
        both = _with_renewed(workshop, component) if of_grade else original
        choices = [(both, borrowed), (of_grade, ""), (of_any, "")]
    elif origin == "renewed":
        borrowed = f"{component}, {grade}: none was watched, so taken to live as all renewed ones"
        choices = [(of_grade, ""), (of_any, borrowed), (original, borrowed)]
    for curve, note in choices:
        if curve is not None:
            return curve, note
    raise EstimateError(f"{component}: no {origin} fitment was watched for any time")


@lru_cache(maxsize=64)
def _with_renewed(workshop: Workshop, component: str) -> ComponentCurve | None:
    """The original's curve with the genuine renewed parts that are taken to live like it."""
    original = workshop.original.get(component)
    if original is None:
        return None
    renewed = workshop.renewed[RENEWAL_GRADE][component].counts
    table = pl.concat([original.counts.table, renewed.table])
    what = f"{component} (original and renewed)"
    return curve_of(
        component,
        replace(original.counts, table=table, what=what),
        origin="original",
        confidence=workshop.confidence,
    )


def life_draws(
    workshop: Workshop, component: str, *, origin: str, grade: str
) -> tuple[WeibullDraws, str]:
    """Curves as likely as the data leave them, on the component's scale, and a note."""
    curve, note = life_curve(workshop, component, origin=origin, grade=grade)
    question = f"{component} {curve.counts.what}"
    return curve.posterior.draws(workshop.rng(question), N_DRAWS), note


@lru_cache(maxsize=8)
def pace_of(workshop: Workshop) -> Pace:
    """How far the median vehicle in the book goes in a year."""
    median = vehicles_in_the_book(workshop.records)["miles_per_year"].median()
    return Pace(median if isinstance(median, float) else 0.0, workshop.catalogue.distances_in)


def life_in_years(
    workshop: Workshop, component: Component, *, origin: str, grade: str, pace: Pace
) -> tuple[WeibullDraws, str]:
    """Draws of a component's life in years, at this pace where it wears by distance, and a note."""
    draws, note = life_draws(workshop, component.name, origin=origin, grade=grade)
    if component.scale == "distance":
        if pace.miles_per_year <= 0:
            raise EstimateError(f"{component.name}: wears by distance, and no pace is known")
        draws = draws.on_scale(pace.per_year, YEARS)
    return (_believed(draws) if origin == "renewed" else draws), note


def _believed(draws: WeibullDraws) -> WeibullDraws:
    """As many draws, only of those under which most new parts last a month; all if there is none.

    Under others a part renewed fails again thousands of times before the horizon, and the mean
    cost of renewing hangs on a few of them.
    """
    lasting = draws.scale * np.log(2.0) ** (1 / draws.shape) >= LEAST_MEDIAN_YEARS
    if lasting.all() or not lasting.any():
        return draws
    pick = np.resize(np.flatnonzero(lasting), lasting.size)
    return WeibullDraws(draws.shape[pick], draws.scale[pick], draws.unit)
