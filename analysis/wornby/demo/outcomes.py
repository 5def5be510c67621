"""What happens to each part at a visit: found, renewed, renewed with its neighbours, left."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.demo.fleet import DAYS_PER_YEAR, Array, Fleet, Numbers, fit, fitments, grades_fitted
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
