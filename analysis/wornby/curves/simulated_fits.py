"""Many simulated sets of lives at once: a curve fitted to each, and how far it lies from its steps.

All sets watch the same lives from the same entries, so arrays have one row for each set and one
column for each life.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wornby.curves.ascent import CLOSE_ENOUGH, Values, careful_step, uphill
from wornby.curves.likelihood import Family, Jet
from wornby.curves.log_ages import Array

ROUNDING = 1e-9
MOST_STEPS = 20
"""From the truth a fit takes five; where the slope runs towards nought there is none to reach."""


@dataclass(frozen=True, eq=False, slots=True)
class SimulatedLives:
    """Sets of lives watched alike: entry and weight (n,), end and failed (sets, n)."""

    entry: Array
    weight: Array
    end: Array
    failed: NDArray[np.bool_]


def moments(jet: Jet, x: Array, weight: Array) -> tuple[Array, Array, Array]:
    """Weighted sums of a function of z over a set's lives, with derivatives in the pair."""
    value, first, second = (weight * part for part in jet)
    gradient = np.stack([-first.sum(-1), (first * x).sum(-1)], axis=-1)
    cross = -(second * x).sum(-1)
    rows = [
        np.stack([second.sum(-1), cross], axis=-1),
        np.stack([cross, (second * x**2).sum(-1)], axis=-1),
    ]
    return value.sum(-1), gradient, np.stack(rows, axis=-2)


def fitted_to_each(
    family: Family, lives: SimulatedLives, start: Array, centre: float
) -> tuple[Array, NDArray[np.bool_]]:
    """The family's (intercept, slope) of highest likelihood in each set, and whether it is one.

    All climb from the pair at `start`. The likelihood is that of `likelihood.log_likelihood`,
    less what does not move with the pair.
    """
    x = np.log(lives.end) - centre
    begun = lives.entry > 0
    x_entry, entered = np.log(lives.entry[begun]) - centre, -lives.weight[begun]
    failing = lives.weight * lives.failed
    n_failed = failing.sum(-1)

    def objective(theta: Array) -> Values:
        intercept, slope = theta[:, :1], theta[:, 1:]
        with np.errstate(all="ignore"):
            z = slope * x - intercept
            parts = [
                moments(family.log_survival(z), x, lives.weight),
                moments(family.log_survival(slope * x_entry - intercept), x_entry, entered),
                moments(family.log_hazard(z), x, failing),
            ]
            value, gradient, hessian = (sum(terms) for terms in zip(*parts, strict=True))
            value = value + n_failed * np.log(slope[:, 0])
            gradient[:, 1] += n_failed / slope[:, 0]
            hessian[:, 1, 1] -= n_failed / slope[:, 0] ** 2
        return np.where(np.isfinite(value), value, -np.inf), gradient, hessian

    point = np.repeat(start[None, :], len(lives.end), axis=0)
    now = objective(point)
    for _ in range(MOST_STEPS):
        step, promised = uphill(now[1], now[2])
        if (promised < 2 * CLOSE_ENOUGH).all():
            break
        point, now, _ = careful_step(objective, point, now=now, step=step)
    return point, uphill(now[1], now[2])[1] < 2 * CLOSE_ENOUGH


def fits_to_steps(family: Family, lives: SimulatedLives, start: Array, centre: float) -> Array:
    """Each set's Cramer-von Mises distance between its own fit and its own Kaplan-Meier steps.

    Sets without a fit are left out.
    """
    pairs, is_fit = fitted_to_each(family, lives, start, centre)
    age, before, after, begins = steps_of_each(lives)
    fitted = survival_at(family, pairs, age, centre)
    reached = survival_at(family, pairs, begins, centre)
    gap = (before + after) / 2 - fitted / np.maximum(reached, 1e-300)
    return np.asarray(((before - after) * gap**2).sum(-1)[is_fit])


def survival_at(family: Family, theta: Array, age: Array, centre: float) -> Array:
    """Survival of each set's curve at ages of its own, all above nought."""
    z = theta[:, 1:] * (np.log(age) - centre) - theta[:, :1]
    with np.errstate(all="ignore"):
        return np.exp(family.log_survival(z)[0])


def steps_of_each(lives: SimulatedLives) -> tuple[Array, Array, Array, Array]:
    """Kaplan-Meier of each set: ages in order, survival before and after, and where it begins.

    Where all at risk fail early and others follow, it begins after that, as
    `at_risk.after_collapse` has it; and never before the first watched life.
    """
    order = np.argsort(lives.end, axis=1)
    age = np.take_along_axis(lives.end, order, axis=1)
    weight = np.broadcast_to(lives.weight, age.shape)
    weight = np.take_along_axis(weight, order, axis=1)
    failing = weight * np.take_along_axis(lives.failed, order, axis=1)

    by_entry = np.argsort(lives.entry)
    entered = np.append(0.0, np.cumsum(lives.weight[by_entry]))
    watched = entered[np.searchsorted(lives.entry[by_entry], age)]
    at_risk = watched - (np.cumsum(weight, axis=1) - weight)
    collapsed = (failing > 0) & (failing >= at_risk - ROUNDING)
    later, begins = after_fullest_stretch(age, failing, collapsed, first=lives.entry.min())
    falling = np.where(later & (failing > 0), failing / np.maximum(at_risk, failing + 1e-300), 0.0)
    after = np.cumprod(1 - np.where(later & collapsed, 1.0, falling), axis=1)
    before = np.concatenate([np.ones((len(age), 1)), after[:, :-1]], axis=1)
    return age, before, after, begins


def after_fullest_stretch(
    age: Array, failing: Array, collapsed: NDArray[np.bool_], *, first: float
) -> tuple[NDArray[np.bool_], Array]:
    """Which ages come after the collapse before the stretch with most failures, and its age."""
    n_sets, n = age.shape
    stretch = np.asarray(np.cumsum(collapsed, axis=1) - collapsed, dtype=np.int64)
    cell = np.arange(n_sets)[:, None] * (n + 1) + stretch
    tally = np.bincount(cell.ravel(), failing.ravel(), n_sets * (n + 1))
    fullest = tally.reshape(n_sets, n + 1).argmax(axis=1)[:, None]
    later = stretch >= fullest
    begins = np.where(later, 0.0, age).max(axis=1, keepdims=True)
    return later, np.maximum(begins, max(first, 1e-300))
