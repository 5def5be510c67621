"""Workshops of the invented world that kept records to a day, and lived on for a year after it.

The clerk is faultless, the owners are as in the demo. What the workshop knows are the records up
to the close; what came in the year after it is kept beside them, for a forecast to be judged by.
"""

from dataclasses import dataclass, replace
from datetime import date
from functools import cache

import numpy as np
import polars as pl
from told_records import told_records

from wornby.decisions.book import vehicles_in_the_book
from wornby.demo.parameters import WorldParameters
from wornby.demo.places import World, merrow_world
from wornby.demo.told import with_name
from wornby.demo.visits import Book, workshop_book
from wornby.histories.recurring import FOR_CAUSE
from wornby.records.reading import Records
from wornby.reports.workshop import Workshop, workshop_of

CLOSE, END = date(2024, 12, 31), date(2025, 12, 31)
NOT_YET_SEEN = 1.2
"""So many times the wanted vehicles are simulated: some come only in the year after."""


@dataclass(frozen=True, eq=False, slots=True)
class LivedOn:
    """A workshop as its records stood at the close, and what failed in the year after, by name."""

    workshop: Workshop
    came: dict[str, int]


@cache
def world_lived_on(n_vehicles: int) -> World:
    """The demo's world with records to the end of the year after the close."""
    calm = WorldParameters().without_dirt()
    n = int(n_vehicles * NOT_YET_SEEN)
    return merrow_world(replace(calm, n_vehicles=n, records_until=END))


def lived_on(n_vehicles: int, rng: np.random.Generator) -> LivedOn:
    """One workshop with the records of so many vehicles, and its year after them."""
    world = world_lived_on(n_vehicles)
    book = workshop_book(world, rng)
    whole = told_records(book, world=world, rng=rng)
    known = as_of_close(whole, n_vehicles)
    workshop = workshop_of(known, confidence=0.9, seed=int(rng.integers(2**31)))
    return LivedOn(workshop, came_in(book, world, vehicles_in_the_book(known)))


def as_of_close(whole: Records, n_vehicles: int) -> Records:
    """The records as they stood at the close, of the first so many vehicles that had come."""
    by_then = pl.col("date") <= CLOSE
    seen = whole.visits.filter(by_then)["vehicle"].unique().sort().head(n_vehicles)
    ours = pl.col("vehicle").is_in(seen.to_list())
    assert seen.len() == n_vehicles
    return replace(
        whole,
        catalogue=replace(whole.catalogue, records_until=CLOSE),
        vehicles=whole.vehicles.filter(ours),
        sightings=whole.sightings.filter(ours & by_then),
        visits=whole.visits.filter(ours & by_then),
        readings=whole.readings.filter(ours & by_then),
    )


def came_in(book: Book, world: World, vehicles: pl.DataFrame) -> dict[str, int]:
    """How many parts of these vehicles came in failed or degraded in the year after the close."""
    day = pl.col("ended").cast(pl.Int32).cast(pl.Date)
    ended = book.fitments.filter(
        pl.col("how").is_in(FOR_CAUSE) & (day > CLOSE), pl.col("ended").is_not_null()
    )
    ours = with_name(ended).join(vehicles, on="vehicle", how="semi")
    parts = ours.join(world.places.table(), on="place").unique(["vehicle", "place"])
    return dict(parts.group_by("component").len().iter_rows())
