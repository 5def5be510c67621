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


@dataclass(frozen=True, eq=False, slots=True)
class Figures:
    """Counts to be shown together, and what whoever reads them may know besides.

    Behind them are cells that hold whole numbers from 0 up to `most_in_cell`; `truth` is what
    they hold, and each count is one of the `rows` @ cells. `cost` is what is lost with each, and
    `small` marks those that must not be shown. What `known` @ cells comes to is known anyway.
    A reader may guess of those from 1 to `guessed_most` that they were withheld for that.
    """

    truth: Array
    most_in_cell: Array
    rows: Array = field(repr=False)
    cost: Array
    small: Mask
    known: Array = field(repr=False)
    guessed_most: float = 0.0

    @property
    def values(self) -> Array:
        """What each figure counts."""
        return np.asarray(self.rows @ self.truth)

    @property
    def guessed(self) -> Mask:
        """Which figures a reader may guess to be small numbers."""
        return np.asarray(self.small & (self.values > 0) & (self.values <= self.guessed_most))

    def as_guessed(self, fillings: Array) -> Mask:
        """Which of these fillings keep all of those small."""
        told = fillings @ self.rows[self.guessed].T
        return np.asarray(((told >= 1) & (told <= self.guessed_most)).all(axis=1))


def figures_shown(
    rows: ArrayLike,
    truth: ArrayLike,
    *,
    small: ArrayLike,
    cost: ArrayLike,
    known: ArrayLike,
    guessed_most: float = 0.0,
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
        guessed_most=guessed_most,
    )


def suppressed(figures: Figures, *, protection: int) -> Mask:
    """Which figures to withhold: the small ones, and others until the small ones are hidden.

    A small figure is hidden when the figures shown leave the least and the most that it could be
    `protection` apart. For each in turn those withheld beside it are the ones that cost least, by
    mixed integer programming over the two fillings of the cells that prove it: the cell
    suppression problem (Fischetti & Salazar 2001), solved for one small figure after the other
    (Kelly, Golden & Assad 1992; both cited from memory). Where nothing less hides one, all are
    withheld. Then each that a reader may guess to be small is left open by 1 for who has guessed
    so of all of them, where that can be.

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
    return _open_if_guessed(figures, withheld, fillings, protection=protection)


def _open_if_guessed(figures: Figures, withheld: Mask, fillings: Array, *, protection: int) -> Mask:
    """As many more withheld as leave each figure guessed to be small one of two numbers."""
    fillings = fillings[figures.as_guessed(fillings)]
    for figure in np.flatnonzero(figures.guessed).tolist():
        if np.ptp(fillings @ figures.rows[figure]) >= 1:
            continue
        found = _two_fillings(figures, withheld, figure, apart=1, reach=protection, guessed=True)
        if found is not None:
            fillings = np.vstack([fillings, found])
            withheld = withheld | (found @ figures.rows.T != figures.values).any(axis=0)
    return withheld


def _two_fillings(
    figures: Figures,
    withheld: Mask,
    figure: int,
    *,
    apart: float,
    reach: float,
    guessed: bool = False,
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
    found = solved(
        np.concatenate([np.zeros(2 * n), figures.cost]),
        [
            *_agreeing(figures, withheld, reach),
            LinearConstraint(apart_by, apart, np.inf),
            *(_as_guessed(figures, extra=m) if guessed else []),
        ],
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


def _as_guessed(figures: Figures, *, extra: int) -> list[LinearConstraint]:
    """Both fillings keep small what a reader may guess to be small."""
    small = csr_array(figures.rows[figures.guessed])
    none, rest = csr_array(small.shape), csr_array((small.shape[0], extra))
    return [
        LinearConstraint(hstack([*both, rest]), 1, figures.guessed_most)
        for both in ((small, none), (none, small))
    ]


def solved(objective: Array, constraints: list[LinearConstraint], bounds: Bounds) -> OptimizeResult:
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
