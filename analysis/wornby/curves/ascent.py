"""Newton's method, many at once, with convergence that is checked and said."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from wornby.curves.log_ages import Array

Values: TypeAlias = tuple[Array, Array, Array]
Objective: TypeAlias = Callable[[Array], Values]

CLOSE_ENOUGH = 1e-10
MOST_STEPS = 100
MOST_HALVINGS = 30


@dataclass(frozen=True, eq=False, slots=True)
class Summit:
    """Where each climb ended: its point, value, gradient, Hessian, and whether it converged."""

    point: Array
    value: Array
    gradient: Array
    hessian: Array
    converged: NDArray[np.bool_]


def uphill(gradient: Array, hessian: Array) -> tuple[Array, Array]:
    """Newton's step, mended where the Hessian does not bend down, and the rise it promises."""
    bend = -hessian
    if gradient.shape[-1] > 2:
        return mended(gradient, bend)
    a, b, d = bend[:, 0, 0], bend[:, 0, -1], bend[:, -1, -1]
    with np.errstate(all="ignore"):
        determinant = a * d - b * b if gradient.shape[-1] == 2 else a
        if gradient.shape[-1] == 1:
            step = gradient / a[:, None]
        else:
            g, h = gradient[:, 0], gradient[:, 1]
            step = np.stack([d * g - b * h, a * h - b * g], axis=-1) / determinant[:, None]
        promised = (gradient * step).sum(-1)
        odd = ~((a > 0) & (determinant > 1e-12 * a * d)) | ~np.isfinite(promised)
    if odd.any():
        step[odd], promised[odd] = mended(gradient[odd], bend[odd])
    return step, promised


def mended(gradient: Array, bend: Array) -> tuple[Array, Array]:
    """Newton's step with each curvature made positive, along the axes of the bend.

    NaN where gradient or bend are not finite: there is no step from there.
    """
    known = np.asarray(np.isfinite(bend).all((1, 2)) & np.isfinite(gradient).all(1))
    bend = chosen(known, bend, np.broadcast_to(np.eye(bend.shape[-1]), bend.shape))
    curvature, axes = np.linalg.eigh(bend)
    largest = np.maximum(np.abs(curvature).max(-1, keepdims=True), 1e-300)
    curvature = np.maximum(np.abs(curvature), 1e-14 * largest)
    along = np.einsum("nji,nj->ni", axes, gradient)
    with np.errstate(all="ignore"):
        step = np.einsum("nij,nj->ni", axes, along / curvature)
        promised = (along**2 / curvature).sum(-1)
    return np.where(known[:, None], step, np.nan), np.where(known, promised, np.nan)


def chosen(which: NDArray[np.bool_], new: Array, old: Array) -> Array:
    """Rows of `new` where `which` holds, of `old` elsewhere."""
    return np.where(which.reshape(-1, *[1] * (new.ndim - 1)), new, old)


def careful_step(
    objective: Objective, point: Array, *, now: Values, step: Array
) -> tuple[Array, Values, NDArray[np.bool_]]:
    """Take the step, halved until the value does not fall; stay where no halving helps."""
    floor = now[0] - 1e-12 * (1 + np.abs(now[0]))
    trial = point + step
    tried = objective(trial)
    for _ in range(MOST_HALVINGS):
        worse = ~(tried[0] >= floor)
        if not worse.any():
            break
        step = chosen(worse, step / 2, step)
        trial = point + step
        tried = objective(trial)
    good = tried[0] >= floor
    value, gradient, hessian = (chosen(good, n, o) for n, o in zip(tried, now, strict=True))
    return chosen(good, trial, point), (value, gradient, hessian), good


def climb(objective: Objective, start: Array) -> Summit:
    """Climb from each row of `start` to a maximum of the objective.

    The objective takes points (n, p) and gives value (n,), gradient (n, p), Hessian (n, p, p),
    and minus infinity outside its domain. A climb has converged when the rise that Newton's
    step promises (half its decrement; Boyd & Vandenberghe 2004, section 9.5) is below 1e-10
    and the Hessian bends down; one more step is then taken.
    """
    point, now = start, objective(start)
    done, stuck = np.zeros(len(point), dtype=bool), ~np.isfinite(now[0])
    for _ in range(MOST_STEPS):
        step, promised = uphill(now[1], now[2])
        settled, done = (done | stuck).all(), done | (promised < 2 * CLOSE_ENOUGH)
        if settled:
            break
        step = np.where(stuck[:, None], 0.0, step)
        point, now, good = careful_step(objective, point, now=now, step=step)
        stuck = stuck | ~good
    bend = np.where(np.isfinite(now[2]), -now[2], 0.0)
    bends_down = (np.linalg.eigvalsh(bend) > 0).all(-1)
    return Summit(point, *now, done & bends_down)
