"""Worlds that several tests look at, made once."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from wornby.demo import Records, WorldParameters, demo_records
from wornby.demo.places import World, merrow_world
from wornby.demo.visits import Book, workshop_book

SEED = 7


@pytest.fixture(scope="session")
def book_of() -> Callable[[int], tuple[World, Book]]:
    """What happened at a workshop of so many vans."""

    @cache
    def made(n_vehicles: int) -> tuple[World, Book]:
        world = merrow_world(replace(WorldParameters(), n_vehicles=n_vehicles))
        return world, workshop_book(world, np.random.default_rng(SEED))

    return made


@pytest.fixture(scope="session")
def clean() -> Records:
    """300 vans and records kept by someone who never slips."""
    parameters = replace(WorldParameters(), n_vehicles=300).without_dirt()
    return demo_records(parameters, np.random.default_rng(SEED))


@pytest.fixture(scope="session")
def dirty() -> Records:
    """1,000 vans and records as they come."""
    parameters = replace(WorldParameters(), n_vehicles=1_000)
    return demo_records(parameters, np.random.default_rng(SEED))
