"""Which vans come to the workshop, when first, and what became of their parts before."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.demo.fleet import DAYS_PER_YEAR, Array, Fleet, day_number, live_elsewhere, new_fleet
from wornby.demo.places import World


def days_to_visit(n: int, world: World, rng: np.random.Generator) -> Array:
    """Days between a failure and the visit it brings."""
    days = np.floor(rng.exponential(world.parameters.mean_days_to_visit, n))
    return np.minimum(days, world.parameters.most_days_to_visit)


def vans_that_come(
    world: World, rng: np.random.Generator
) -> tuple[Fleet, Array, NDArray[np.bool_], pl.DataFrame]:
    """Vans, the day of their first visit, whether a failure brings them, and lives ended before.

    A van that waits for a failure and has none while the workshop would take it never comes.
    More are drawn than wanted, and the first that come are kept.
    """
    parameters = world.parameters
    fleet = new_fleet(parameters.n_vehicles * 5 // 4 + 20, world=world, rng=rng)
    joined, latest = join_days(fleet.registered, world, rng)
    ended = live_elsewhere(fleet, joined - 1, world=world, rng=rng)

    by_failure = rng.random(joined.size) < parameters.arrives_with_failure
    brought = np.ceil(fleet.brings().min(axis=1)) + days_to_visit(joined.size, world, rng)
    joined = np.where(by_failure, np.maximum(joined, brought), joined)

    kept = np.nonzero(joined <= latest)[0][: parameters.n_vehicles]
    number = pl.DataFrame({"vehicle": kept}).with_row_index("new")
    ended = ended.join(number, on="vehicle", maintain_order="left").with_columns(
        vehicle=pl.col("new").cast(pl.Int64)
    )
    return fleet.rows(kept), joined[kept], by_failure[kept], ended.drop("new")


def join_days(registered: Array, world: World, rng: np.random.Generator) -> tuple[Array, Array]:
    """A random day of the first visit, and the last day on which a first visit may fall."""
    parameters = world.parameters
    opened, closed = day_number(parameters.records_from), day_number(parameters.records_until)
    earliest = np.maximum(opened, registered + parameters.first_age_years * DAYS_PER_YEAR)
    latest = np.minimum(closed, registered + parameters.last_age_years * DAYS_PER_YEAR)
    old_customer = (rng.random(registered.size) < parameters.in_the_book_at_start) & (
        earliest == opened
    )
    until = np.where(old_customer, opened + DAYS_PER_YEAR, latest)
    return np.floor(earliest + rng.random(registered.size) * (until - earliest)), latest
