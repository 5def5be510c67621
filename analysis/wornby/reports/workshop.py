"""A workshop opened: its records taken through every stage, once for all answers."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from wornby.curves.components import ComponentCurve, component_curves
from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.book import vehicles_in_the_book
from wornby.errors import EstimateError
from wornby.histories.episodes import Episodes, episodes
from wornby.histories.fitments import Histories, histories
from wornby.histories.observation import ObservationRule, rule_named
from wornby.ledger import Ledger
from wornby.records.catalogue import Catalogue, Component
from wornby.records.reading import Records, read_records

N_DRAWS = 2000
RENEWAL_GRADE = "genuine"
"""The grade that advice on renewal takes a new part to be."""


@dataclass(frozen=True, eq=False, slots=True)
class Workshop:
    """Records, histories, episodes and curves of one folder.

    `original` and `renewed` have a curve for each component that has such fitments; `renewed`
    takes parts of `RENEWAL_GRADE` only. Randomness starts from `seed`,
    the same for the same question.
    """

    records: Records
    histories: Histories
    episodes: Episodes
    original: dict[str, ComponentCurve]
    renewed: dict[str, ComponentCurve]
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
        return np.random.default_rng([self.seed, *question.encode()])


def open_workshop(folder: Path | str, *, confidence: float, seed: int) -> Workshop:
    """Take a folder of records through every stage up to the curves."""
    records = read_records(Path(folder))
    made = histories(records)
    watched = episodes(made, rule_named(records.catalogue.observation_rule))
    scales = {name: c.scale for name, c in records.catalogue.components.items()}
    genuine = Episodes(watched.table.filter(grade=RENEWAL_GRADE), watched.rule, watched.ledger)
    return Workshop(
        records=records,
        histories=made,
        episodes=watched,
        original=component_curves(watched, scales, origin="original", confidence=confidence),
        renewed=component_curves(genuine, scales, origin="renewed", confidence=confidence),
        confidence=confidence,
        seed=seed,
    )


def curves_under(workshop: Workshop, rule: ObservationRule) -> dict[str, ComponentCurve]:
    """The curves of original parts as they would be under another observation rule."""
    scales = {name: c.scale for name, c in workshop.catalogue.components.items()}
    watched = episodes(workshop.histories, rule)
    return component_curves(watched, scales, origin="original", confidence=workshop.confidence)


def life_draws(workshop: Workshop, component: str, *, origin: str) -> tuple[WeibullDraws, str]:
    """Curves as likely as the data leave them, on the component's scale, and a note.

    A renewed genuine part of which too few have failed is taken to live as the original did.
    """
    curves = workshop.original if origin == "original" else workshop.renewed
    curve = curves.get(component)
    note = ""
    if origin == "renewed" and (curve is None or curve.weibull is None):
        curve = workshop.original.get(component)
        note = f"{component}: few renewed ones have failed, so taken to live as the original did"
    if curve is None:
        raise EstimateError(
            f"{component}: no {origin} fitment was watched, so nothing is known of its life"
        )
    return curve.posterior.draws(workshop.rng(f"{component} {origin}"), N_DRAWS), note


def pace_of(workshop: Workshop) -> float:
    """Miles a year of the median vehicle in the book."""
    median = vehicles_in_the_book(workshop.records)["miles_per_year"].median()
    return float(median) if isinstance(median, float) else 0.0


def life_in_years(
    workshop: Workshop, component: Component, *, origin: str, miles_per_year: float
) -> tuple[WeibullDraws, str]:
    """Draws of a component's life in years, at so many miles a year, and a note."""
    draws, note = life_draws(workshop, component.name, origin=origin)
    if component.scale == "age":
        return draws, note
    return draws.on_scale(miles_per_year, "years"), note
