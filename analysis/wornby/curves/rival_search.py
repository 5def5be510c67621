"""Searching the number that a family has more: the highest likelihood at each of its values."""

from collections.abc import Callable

import numpy as np
from scipy.optimize import minimize_scalar

from wornby.curves.ascent import climb
from wornby.curves.likelihood import Family, log_likelihood
from wornby.curves.log_ages import Array, Evidence
from wornby.curves.parametric import LARGEST_SHAPE, best_start, starting_points
from wornby.errors import EstimateError

UNFITTED = 1e6  # how far below the best a value without a fit is held to lie
CLOSE_ENOUGH = 1e-5  # of the bracket: the profile is flat at its top, so its height is far surer


def at_extra(family: Family, known: Evidence, start: Array) -> tuple[float, Array]:
    """Highest likelihood of a family, climbing from a start and from the lattice if that fails."""
    for again in (False, True):
        begin = best_start(family, known) if again else start
        summit = climb(lambda theta: log_likelihood(family, known, theta), begin)
        if summit.converged[0] and summit.point[0, 1] < LARGEST_SHAPE:
            return float(summit.value[0]), summit.point
    return -np.inf, start


def at_slope(
    family: Family, known: Evidence, slope: float, *, middle: float | None = None
) -> tuple[float, Array]:
    """Highest likelihood of a family with a given slope: only its place is free.

    The climb begins with the curve's middle at `middle`, a log age from the centre, and from the
    lattice if there is none or that fails.
    """

    def objective(free: Array) -> tuple[Array, Array, Array]:
        theta = np.stack([free[:, 0], np.full(len(free), slope)], axis=-1)
        value, gradient, hessian = log_likelihood(family, known, theta)
        return value, gradient[:, :1], hessian[:, :1, :1]

    def from_lattice() -> Array:
        lattice = np.unique(starting_points()[:, 0])[:, None]
        return np.asarray(lattice[[int(np.argmax(objective(lattice)[0]))]])

    for begun in (middle, None):
        summit = climb(objective, from_lattice() if begun is None else np.array([[slope * begun]]))
        if summit.converged[0]:
            return float(summit.value[0]), np.array([[summit.point[0, 0], slope]])
    return -np.inf, np.array([[slope * (middle or 0.0), slope]])


def searched(profile: Callable[[float], float], places: Array) -> float:
    """The place of the highest profile: the best of a lattice, then between its neighbours.

    EstimateError where no place gives a fit.
    """
    heights = np.array([profile(place) for place in places])
    best = int(np.argmax(heights))
    if not np.isfinite(heights[best]):
        raise EstimateError("no value of the third parameter gave a fit")
    low, high = places[max(best - 1, 0)], places[min(best + 1, places.size - 1)]
    depth = heights[best] - UNFITTED
    found = minimize_scalar(
        lambda place: -max(profile(place), depth),
        bounds=(low, high),
        method="bounded",
        options={"xatol": CLOSE_ENOUGH * float(high - low)},
    )
    return float(found.x if -found.fun > heights[best] else places[best])


def check_inside(name: str, place: float, ends: list[float]) -> None:
    """Refuse, with an EstimateError, a search that ran to an open end and would rise further."""
    if place in ends:
        raise EstimateError(f"the {name} runs away: its likelihood still rises at {place:g}")
