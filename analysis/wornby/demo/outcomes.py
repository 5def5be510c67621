"""What happens to each part at a visit: found, renewed, renewed with its neighbours, left."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.demo.fleet import (
    DAYS_PER_YEAR,
    Array,
    Fleet,
    Numbers,
    fit,
    fitments,
    grades_fitted,
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


def causes(
    fleet: Fleet,
    day: Array,
    *,
    service: NDArray[np.bool_],
    looked: NDArray[np.bool_],
    world: World,
    rng: np.random.Generator,
) -> Numbers:
    """What happens to each part at a visit: the number of one of CAUSES, 0 for nothing.

    A failure that the owner has not noticed is found when the van is looked over.
    """
    parameters, places = world.parameters, world.places
    chance = rng.random((4, *fleet.life.shape))
    failed = fleet.fails <= day[:, None]
    known = failed & (fleet.noticed | looked[:, None])
    worn = (fleet.degrades <= day[:, None]) & ~failed & (places.degraded_years > 0)
    seen = worn & looked[:, None] & (chance[0] < parameters.degraded_seen)
    renewed = seen & (chance[1] < parameters.degraded_renewed_if_seen)
    cause = np.select([known, renewed, seen], [FAILURE, DEGRADED, ADVISORY], 0)

    belt = places.of("timing belt")
    willing = chance[2, :, belt] < parameters.belt_renewed_when_due
    due = belt_due(fleet, day, world) & service & willing & (cause[:, belt] == 0)
    cause[due, belt] = DUE

    in_group = places.group[:, None] == np.arange(len(places.group_names))
    opened = ((cause > 0) & (cause != ADVISORY)) @ in_group
    pipe = places.of("brake pipe above the axle")
    out = opened[:, places.group_names.index("gearbox out")]
    noticed = chance[2, :, pipe] < parameters.found_with_gearbox_out
    found = out & worn[:, pipe] & noticed & np.isin(cause[:, pipe], (0, ADVISORY))
    cause[found, pipe] = FOUND

    old = old_enough(fleet, day, world=world, rng=rng)
    left = (cause == 0) & ~failed
    neighbour = opened[:, places.group] & old & (chance[3] < parameters.precaution)
    worn_out = looked[:, None] & about_to_fail(fleet, day, world=world, rng=rng)
    cause[left & (neighbour | worn_out)] = PRECAUTION
    return cause


def about_to_fail(
    fleet: Fleet, day: Array, *, world: World, rng: np.random.Generator
) -> NDArray[np.bool_]:
    """Parts that a mechanic renews unasked for what he feels in them: the nearer, the likelier."""
    within, most = world.parameters.worn_shows_years, world.parameters.precaution_of_worn
    if not most:
        return np.zeros(fleet.life.shape, dtype=bool)
    left = (fleet.fails - day[:, None]) / DAYS_PER_YEAR
    return rng.random(left.shape) < most * np.clip(1 - left / within, 0, 1)


def old_enough(
    fleet: Fleet, day: Array, *, world: World, rng: np.random.Generator
) -> NDArray[np.bool_]:
    """Whether each owner would renew each part as a precaution: by its age or distance alone."""
    low, high = world.parameters.precaution_from_share_of_scale
    share = low + (high - low) * rng.random(day.size)
    return fleet.worn_share(day, world.places) > share[:, None]


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
    grade = grades_of_the_day(who.size, world=world, rng=rng)[row, place]
    why = np.array(CAUSES)[cause[row, place]]
    years = (day[row] - fleet.fitted[who[row], place]) / DAYS_PER_YEAR
    what = {"vehicle": who[row], "day": day[row], "place": place, "cause": why, "grade": grade}
    outcomes = pl.DataFrame(what).with_columns(years=years)

    renewed = outcomes.filter(pl.col("cause") != "advisory")
    at = (renewed["vehicle"].to_numpy(), renewed["place"].to_numpy())
    how = renewed["cause"].replace_strict(HOW, return_dtype=pl.String)
    gone = fitments(fleet, at).with_columns(ended=renewed["day"], how=how)
    grade = renewed["grade"].to_numpy()
    fit(fleet, at, renewed["day"].to_numpy(), grade=grade, world=world, rng=rng)
    return outcomes, gone


def grades_of_the_day(n: int, *, world: World, rng: np.random.Generator) -> Numbers:
    """The grade that each of n visits fits in each place: the same on both sides."""
    places = world.places
    drawn = grades_fitted(n * len(places.names), world=world, rng=rng).reshape(n, -1)
    return drawn[:, places.component]
