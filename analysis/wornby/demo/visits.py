"""The years at the workshop: who comes when, and who stays away."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.demo.arrivals import days_to_visit, vans_that_come
from wornby.demo.fleet import (
    DAYS_PER_YEAR,
    Array,
    Fleet,
    Numbers,
    day_number,
    fitments,
    happens,
)
from wornby.demo.outcomes import FAILURE, carried_out, causes
from wornby.demo.places import World


@dataclass(frozen=True, eq=False, slots=True)
class Book:
    """What truly happened at the workshop, before anybody wrote it down.

    `visits`: vehicle, day, first, service, loyal (the owner means to bring the van again).
    `outcomes`: vehicle, day, place, cause (one of CAUSES), grade fitted, years on the old part.
    `fitments`: every part that ever sat in a place, and how it ended.
    """

    fleet: Fleet
    visits: pl.DataFrame
    outcomes: pl.DataFrame
    fitments: pl.DataFrame


def workshop_book(world: World, rng: np.random.Generator) -> Book:
    """Run the invented workshop from its first visit to the close of its records."""
    fleet, joined, by_failure, before = vans_that_come(world, rng)
    visits, outcomes, ended = [], [], [before]
    who, day, service, first = np.arange(joined.size), joined, ~by_failure, True
    due = joined.copy()
    while who.size:
        looked = service | first
        cause = causes(fleet.rows(who), day, service=service, looked=looked, world=world, rng=rng)
        outcome, gone = carried_out(fleet, who, day, cause=cause, world=world, rng=rng)
        loyal = rng.random(who.size) >= world.parameters.lost_after_visit
        loyal &= ~put_off(cause, world, rng)
        visit = pl.DataFrame({"vehicle": who, "day": day, "service": service, "loyal": loyal})
        visits.append(visit.with_columns(first=pl.lit(first)))
        outcomes.append(outcome)
        ended.append(gone)
        due[who] = np.where(looked, day + days_to_service(who.size, world, rng), due[who])
        who, day = next_visits(
            fleet, who[loyal], day[loyal], due=due[who[loyal]], world=world, rng=rng
        )
        service = due[who] - day <= world.parameters.service_brought_forward_days
        first = False
    return Book(
        fleet=fleet,
        visits=pl.concat(visits).sort("vehicle", "day"),
        outcomes=pl.concat(outcomes).sort("vehicle", "day", "place"),
        fitments=pl.concat([*ended, still_in_service(fleet)]).sort("vehicle", "place", "fitted"),
    )


def still_in_service(fleet: Fleet) -> pl.DataFrame:
    """The parts in place when the records close, or when the workshop saw the van last."""
    who, place = np.nonzero(np.ones(fleet.life.shape, dtype=bool))
    never = pl.lit(None, pl.Float64)
    return fitments(fleet, (who, place)).with_columns(ended=never, how=pl.lit("in service"))


def next_visits(
    fleet: Fleet, who: Numbers, day: Array, *, due: Array, world: World, rng: np.random.Generator
) -> tuple[Numbers, Array]:
    """Which loyal owners come again before the records close, and when.

    They come for the next service, or because something has failed; some will not pay for it.
    """
    brings = fleet.brings()[who]
    brought = np.ceil(brings.min(axis=1)) + days_to_visit(who.size, world, rng)
    comes = np.maximum(np.minimum(brought, due), day + 1)
    dear = world.places.bill_net[brings.argmin(axis=1)] >= world.parameters.big_bill_net
    given_up = happens(world.parameters.given_up_at_big_bill, who.size, rng)
    stays = (brought < due) & dear & given_up
    again = (comes <= day_number(world.parameters.records_until)) & ~stays
    return who[again], comes[again]


def put_off(cause: Numbers, world: World, rng: np.random.Generator) -> NDArray[np.bool_]:
    """Which owners stay away for the bill of a failure; a place's bill, not the visit's, counts."""
    dear = world.places.bill_net >= world.parameters.big_bill_net
    paid = ((cause == FAILURE) & dear).any(axis=1)
    return np.asarray(paid & happens(world.parameters.lost_after_big_bill, paid.size, rng))


def days_to_service(n: int, world: World, rng: np.random.Generator) -> Array:
    """Days from one service to the next."""
    parameters = world.parameters
    years = rng.normal(parameters.years_between_services, parameters.sd_years_between_services, n)
    return np.round(np.maximum(years, 0.3) * DAYS_PER_YEAR)
