"""Records of a simulated workshop without files: what told_book tells, with its catalogue."""

from dataclasses import replace
from functools import cache
from importlib.resources import as_file, files

import numpy as np

from wornby.demo.places import World
from wornby.demo.told import told_book
from wornby.demo.visits import Book
from wornby.records.catalogue import Catalogue
from wornby.records.catalogue_file import read_catalogue
from wornby.records.reading import Records
from wornby.tables import LINES


@cache
def demo_catalogue() -> Catalogue:
    """workshop.toml of the invented workshop."""
    with as_file(files("wornby.demo") / "workshop.toml") as path:
        return read_catalogue(path)


def told_records(book: Book, *, world: World, rng: np.random.Generator) -> Records:
    """The tables that lives are made from; job lines and problems are empty."""
    told = told_book(book, world=world, rng=rng)
    nothing = LINES.empty()
    return Records(
        catalogue=replace(demo_catalogue(), records_until=world.parameters.records_until),
        vehicles=told.vehicles,
        lines=nothing,
        sightings=told.sightings,
        visits=told.visits,
        readings=told.readings,
        problems=nothing,
        mentions=nothing,
        unplaced=nothing,
        ledgers=(),
    )
