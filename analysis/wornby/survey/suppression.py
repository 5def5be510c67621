"""Which numbers of a set of tables to withhold, so that those shown do not give them away."""

import os
import sys
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import Bounds, LinearConstraint, OptimizeResult, milp
from scipy.sparse import csr_array, hstack

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
STANDARD_OUTPUT = 1
THOUSAND = 1000
"""Shares are reckoned in thousandths, so that whole numbers are all that is solved with."""


@dataclass(frozen=True, eq=False, slots=True)
class Figures:
    """Counts to be shown together, and what whoever reads them may know besides.

    Behind them are cells that hold whole numbers from 0 up to `most_in_cell`; `truth` is what
    they hold, and each count is one of the `rows` @ cells. `cost` is what is lost with each, and
    `small` marks those that must not be shown. What `known` @ cells comes to is known anyway.
    """

    truth: Array
    most_in_cell: Array
    rows: Array = field(repr=False)
    cost: Array
    small: Mask
    known: Array = field(repr=False)

    @property
    def values(self) -> Array:
        """What each figure counts."""
        return np.asarray(self.rows @ self.truth)


def figures_shown(
    rows: ArrayLike, truth: ArrayLike, *, small: ArrayLike, cost: ArrayLike, known: ArrayLike
) -> Figures:
    """Figures over cells; no cell holds more than what is known of all in which it is."""
    cells, always = (np.asarray(given, dtype=np.float64) for given in (truth, known))
    most_in_cell = np.full(cells.size, cells.sum())
    for row in always[(always >= 0).all(axis=1)]:
        held = row > 0
        most_in_cell[held] = np.minimum(most_in_cell[held], row @ cells)
    return Figures(
        truth=cells,
        most_in_cell=most_in_cell,
        rows=np.asarray(rows, dtype=np.float64),
        cost=np.asarray(cost, dtype=np.float64),
        small=np.asarray(small, dtype=np.bool_),
        known=always,
    )


@dataclass(frozen=True, eq=False, slots=True)
class RoundedShare:
    """A share that is shown: of `part` @ cells in `whole` @ cells, rounded to a multiple.

    `part` and `whole` are whole numbers: weights in thousandths, say.
    """

    part: Array
    whole: Array
    value: float
    rounded_to: float

    def constraints(self) -> list[LinearConstraint]:
        """What it tells of the cells."""
        low, high = (
            round(THOUSAND * (self.value + sign * self.rounded_to / 2)) for sign in (-1, 1)
        )
        rows = (THOUSAND * self.part - bound * self.whole for bound in (low, high))
        least, most = (csr_array(row[None, :]) for row in rows)
        return [LinearConstraint(least, 0, np.inf), LinearConstraint(most, -np.inf, 0)]


def suppressed(figures: Figures, *, protection: int) -> Mask:
    """Which figures to withhold: the small ones, and others until the small ones are hidden.

    A small figure is hidden when the figures shown leave the least and the most that it could be
    `protection` apart. For each in turn those withheld beside it are the ones that cost least, by
    mixed integer programming over the two fillings of the cells that prove it: the cell
    suppression problem (Fischetti & Salazar 2001), solved for one small figure after the other
    (Kelly, Golden & Assad 1992; both cited from memory). Where nothing less hides one, all are
    withheld.

    Two versions and three years with their totals, and one cell of 2: a square has to go.

    >>> table = np.array([[2, 20, 30], [40, 6, 50]])
    >>> by_version, by_year = np.kron(np.eye(2), np.ones(3)), np.kron(np.ones(2), np.eye(3))
    >>> rows = np.vstack([np.eye(6), by_version, by_year, np.ones(6)])
    >>> told = rows @ table.ravel()
    >>> shown = figures_shown(
    ...     rows, table.ravel(), small=told < 5, cost=told, known=np.zeros((1, 6))
    ... )
    >>> suppressed(shown, protection=4)[:6].reshape(2, 3)
    array([[ True,  True, False],
           [ True,  True, False]])
    """
    withheld = figures.small.copy()
    fillings = figures.truth[None, :]
    for figure in np.flatnonzero(figures.small).tolist():
        if np.ptp(fillings @ figures.rows[figure]) >= protection:
            continue
        for reach in (protection, 3 * protection):
            found = _two_fillings(figures, withheld, figure, apart=protection, reach=reach)
            if found is not None:
                break
        else:
            return np.ones_like(withheld)
        fillings = np.vstack([fillings, found])
        withheld = withheld | (found @ figures.rows.T != figures.values).any(axis=0)
    return withheld


def hidden(
    figures: Figures, withheld: Mask, *, protection: int, share: RoundedShare | None = None
) -> bool:
    """Whether what is shown leaves every small figure, and each other withheld one, open.

    Small ones by `protection`, others by 1; a `share` may be shown besides the counts. The least
    and the most of each are solved for, unless fillings found before show them far enough apart.
    """
    fillings = figures.truth[None, :]
    for figure in np.flatnonzero(withheld).tolist():
        wanted = protection if figures.small[figure] else 1
        for sign in (1.0, -1.0):
            if np.ptp(fillings @ figures.rows[figure]) >= wanted:
                break
            found = _extreme(figures, withheld, sign * figures.rows[figure], share)
            fillings = np.vstack([fillings, found])
        if np.ptp(fillings @ figures.rows[figure]) < wanted:
            return False
    return True


def _extreme(
    figures: Figures, withheld: Mask, objective: Array, share: RoundedShare | None
) -> Array:
    """The filling that agrees with all that is shown and makes the objective least."""
    shown, told = figures.values[~withheld], figures.known @ figures.truth
    found = _solved(
        objective,
        [
            LinearConstraint(csr_array(figures.rows[~withheld]), shown, shown),
            LinearConstraint(csr_array(figures.known), told, told),
            *([] if share is None else share.constraints()),
        ],
        Bounds(0, figures.most_in_cell),
    )
    if found.x is None:
        raise AssertionError(f"what is shown contradicts itself: {found.message}")
    return np.asarray(np.round(found.x))


def _two_fillings(
    figures: Figures, withheld: Mask, figure: int, *, apart: float, reach: float
) -> Array | None:
    """Two fillings that differ so far in a figure and contradict the least costly others, if any.

    No cell, and no count given up, is further than `reach` from the truth: the nearer, the
    sooner it is solved.
    """
    n, m = figures.truth.size, figures.cost.size
    low = np.maximum(0, figures.truth - reach)
    high = np.minimum(figures.most_in_cell, figures.truth + reach)
    count = csr_array(figures.rows[[figure]])
    apart_by = hstack([count, -count, csr_array((1, m))])
    found = _solved(
        np.concatenate([np.zeros(2 * n), figures.cost]),
        [*_agreeing(figures, withheld, reach), LinearConstraint(apart_by, apart, np.inf)],
        Bounds(np.concatenate([low, low, np.zeros(m)]), np.concatenate([high, high, np.ones(m)])),
    )
    return None if found.x is None else np.round(found.x[: 2 * n]).reshape(2, n)


def _agreeing(figures: Figures, withheld: Mask, reach: float) -> list[LinearConstraint]:
    """Both fillings agree with each count shown, unless it is given up."""
    shown = np.flatnonzero(~withheld)
    rows, known = csr_array(figures.rows[shown]), csr_array(figures.known)
    slack = np.minimum(np.abs(figures.rows[shown]) @ figures.most_in_cell + 1, reach)
    place = (np.arange(shown.size), shown)
    given_up = csr_array((slack, place), shape=(shown.size, withheld.size))
    told, anyway = figures.values[shown], figures.known @ figures.truth
    no_rows, no_known = csr_array(rows.shape), csr_array(known.shape)
    no_cost = csr_array((known.shape[0], withheld.size))
    constraints = []
    for both, always in (
        ([rows, no_rows], [known, no_known]),
        ([no_rows, rows], [no_known, known]),
    ):
        constraints += [
            LinearConstraint(hstack([*both, given_up]), told, np.inf),
            LinearConstraint(hstack([*both, -given_up]), -np.inf, told),
            LinearConstraint(hstack([*always, no_cost]), anyway, anyway),
        ]
    return constraints


def _solved(
    objective: Array, constraints: list[LinearConstraint], bounds: Bounds
) -> OptimizeResult:
    """The whole numbers that make the objective least.

    HiGHS at times writes a line of its own to the standard output, past Python: it is led away,
    since it would break what programs read there.
    """
    sys.stdout.flush()
    kept = os.dup(STANDARD_OUTPUT)
    try:
        with open(os.devnull, "w") as nowhere:
            os.dup2(nowhere.fileno(), STANDARD_OUTPUT)
        return milp(
            objective,
            constraints=constraints,
            bounds=bounds,
            integrality=np.ones(objective.size, dtype=np.int64),
        )
    finally:
        os.dup2(kept, STANDARD_OUTPUT)
        os.close(kept)
