"""The years at the workshop: who comes when, what is found, what is renewed, who stays away."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.demo.fleet import (
    DAYS_PER_YEAR,
    Array,
    Fleet,
    Numbers,
    day_number,
    fit,
    fitments,
    grades_fitted,
    live_elsewhere,
    new_fleet,
)
from wornby.demo.places import World

CAUSES = ("", "failure", "degraded", "found", "due", "precaution", "advisory")
FAILURE, DEGRADED, FOUND, DUE, PRECAUTION, ADVISORY = range(1, 7)
HOW = {
    "failure": "failure",
    "degraded": "degraded finding",
    "found": "degraded finding",
    "due": "preventive renewal",
    "precaution": "preventive renewal",
}


@dataclass(frozen=True, eq=False, slots=True)
class Book:
    """What truly happened at the workshop, before anybody wrote it down.

    `visits`: vehicle, day, first, service. `outcomes`: vehicle, day, place, cause (one of
    CAUSES), grade fitted. `fitments`: every part that ever sat in a place, and how it ended.
    """

    fleet: Fleet
    visits: pl.DataFrame
    outcomes: pl.DataFrame
    fitments: pl.DataFrame


def workshop_book(world: World, rng: np.random.Generator) -> Book:
    """Run the invented workshop from its first visit to the close of its records."""
    fleet, joined, by_failure, ended = vans_that_come(world, rng)
    visits, outcomes = [], []
    who, day = np.arange(joined.size), joined
    service_due = joined.copy()
    first = True
    while who.size:
        service = (
            ~by_failure
            if first
            else service_due[who] - day <= world.parameters.service_brought_forward_days
        )
        cause = causes(
            fleet.rows(who), day, service=service, looked=service | first, world=world, rng=rng
        )
        visits.append(
            pl.DataFrame({"vehicle": who, "day": day, "service": service}).with_columns(
                first=pl.lit(first)
            )
        )
        outcome, gone = carried_out(fleet, who, day, cause=cause, world=world, rng=rng)
        outcomes.append(outcome)
        ended.append(gone)
        service_due[who] = np.where(
            service | first, day + days_to_service(who.size, world, rng), service_due[who]
        )
        who, day = next_visits(fleet, who, day, service_due=service_due[who], world=world, rng=rng)
        first = False
    still = fitments(fleet, everywhere(fleet)).with_columns(
        ended=pl.lit(None, pl.Float64), how=pl.lit("in service")
    )
    return Book(
        fleet=fleet,
        visits=pl.concat(visits).sort("vehicle", "day"),
        outcomes=pl.concat(outcomes).sort("vehicle", "day", "place"),
        fitments=pl.concat([*ended, still]).sort("vehicle", "place", "fitted"),
    )


def everywhere(fleet: Fleet) -> tuple[Numbers, Numbers]:
    """Every place of every van."""
    who, place = np.nonzero(np.ones(fleet.life.shape, dtype=bool))
    return who, place


def vans_that_come(
    world: World, rng: np.random.Generator
) -> tuple[Fleet, Array, NDArray[np.bool_], list[pl.DataFrame]]:
    """Vans, the day of their first visit, whether a failure brings them, and lives ended before.

    A van that waits for a failure and has none while the workshop would take it never comes.
    More are drawn than wanted, and the first that come are kept.
    """
    parameters = world.parameters
    fleet = new_fleet(parameters.n_vehicles * 5 // 4 + 20, world=world, rng=rng)
    joined, latest = join_days(fleet.registered, world, rng)
    ended = live_elsewhere(fleet, joined - 1, world=world, rng=rng)

    by_failure = rng.random(joined.size) < parameters.arrives_with_failure
    brought = np.ceil(fleet.fails.min(axis=1)) + days_to_visit(joined.size, world, rng)
    joined = np.where(by_failure, np.maximum(joined, brought), joined)

    kept = np.nonzero(joined <= latest)[0][: parameters.n_vehicles]
    number = pl.DataFrame({"vehicle": kept}).with_row_index("new")
    ended = ended.join(number, on="vehicle", maintain_order="left").with_columns(
        vehicle=pl.col("new").cast(pl.Int64)
    )
    return fleet.rows(kept), joined[kept], by_failure[kept], [ended.drop("new")]


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


def causes(
    fleet: Fleet,
    day: Array,
    *,
    service: NDArray[np.bool_],
    looked: NDArray[np.bool_],
    world: World,
    rng: np.random.Generator,
) -> Numbers:
    """What happens to each part at a visit: the number of one of CAUSES, 0 for nothing."""
    parameters, places = world.parameters, world.places
    chance = rng.random((5, *fleet.life.shape))
    failed = fleet.fails <= day[:, None]
    worn = (fleet.degrades <= day[:, None]) & ~failed & (places.degraded_years > 0)

    seen = worn & looked[:, None] & (chance[0] < parameters.degraded_seen)
    renewed = seen & (chance[1] < parameters.degraded_renewed_if_seen)
    cause = np.select([failed, renewed, seen], [FAILURE, DEGRADED, ADVISORY], 0)

    due = (
        belt_due(fleet, day, world) & service & (chance[2, :, 0] < parameters.belt_renewed_when_due)
    )
    belt = cause[:, places.of("timing belt")]
    belt[due & (belt == 0)] = DUE

    in_group = places.group[:, None] == np.arange(len(places.group_names))
    opened = ((cause > 0) & (cause != ADVISORY)) @ in_group
    pipe = places.of("brake pipe above the axle")
    out = opened[:, places.group_names.index("gearbox out")]
    found = (
        out
        & worn[:, pipe]
        & np.isin(cause[:, pipe], (0, ADVISORY))
        & (chance[3, :, pipe] < parameters.found_with_gearbox_out)
    )
    cause[found, pipe] = FOUND

    low, high = parameters.precaution_from_share_of_scale
    old = fleet.worn_share(day, places) > low + (high - low) * rng.random(day.size)[:, None]
    neighbour = opened[:, places.group] & old & (cause == 0)
    cause[neighbour & (chance[4] < parameters.precaution)] = PRECAUTION
    return cause


def belt_due(fleet: Fleet, day: Array, world: World) -> NDArray[np.bool_]:
    """Whether the timing belt has reached the age or the distance at which it is due."""
    years = (day - fleet.fitted[:, world.places.of("timing belt")]) / DAYS_PER_YEAR
    by_age = years >= world.parameters.belt_due_years
    return np.asarray(by_age | (years * fleet.miles_per_year >= world.parameters.belt_due_mi))


def carried_out(
    fleet: Fleet,
    who: Numbers,
    day: Array,
    *,
    cause: Numbers,
    world: World,
    rng: np.random.Generator,
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Renew what is renewed at these visits; the outcomes, and the fitments that ended."""
    row, place = np.nonzero(cause)
    why = np.array(CAUSES)[cause[row, place]]
    # Both sides of a component get the same grade at one visit.
    by_component = grades_fitted(who.size * len(world.places.names), world=world, rng=rng)
    grade = by_component.reshape(who.size, -1)[row, world.places.component[place]]
    outcomes = pl.DataFrame(
        {
            "vehicle": who[row],
            "day": day[row],
            "place": place,
            "cause": why,
            "grade": grade,
            "years": (day[row] - fleet.fitted[who[row], place]) / DAYS_PER_YEAR,
        }
    )

    renewed = why != "advisory"
    row, place = row[renewed], place[renewed]
    gone = fitments(fleet, (who[row], place)).with_columns(
        ended=day[row], how=pl.Series(why[renewed]).replace_strict(HOW, return_dtype=pl.String)
    )
    fit(fleet, (who[row], place), day[row], grade=grade[renewed], world=world, rng=rng)
    return outcomes, gone


def next_visits(
    fleet: Fleet,
    who: Numbers,
    day: Array,
    *,
    service_due: Array,
    world: World,
    rng: np.random.Generator,
) -> tuple[Numbers, Array]:
    """Who comes again, and when: for the next service, or because something has failed.

    Whether an owner stays away is settled at the visit, whatever the parts may do next.
    """
    stays = rng.random(who.size) >= world.parameters.lost_after_visit
    brought = np.ceil(fleet.fails[who].min(axis=1)) + days_to_visit(who.size, world, rng)
    comes = np.maximum(np.minimum(brought, service_due), day + 1)
    stays &= comes <= day_number(world.parameters.records_until)
    return who[stays], comes[stays]


def days_to_visit(n: int, world: World, rng: np.random.Generator) -> Array:
    """Days between a failure and the visit it brings."""
    days = np.floor(rng.exponential(world.parameters.mean_days_to_visit, n))
    return np.minimum(days, world.parameters.most_days_to_visit)


def days_to_service(n: int, world: World, rng: np.random.Generator) -> Array:
    """Days from one service to the next."""
    parameters = world.parameters
    years = rng.normal(parameters.years_between_services, parameters.sd_years_between_services, n)
    return np.round(np.maximum(years, 0.3) * DAYS_PER_YEAR)
