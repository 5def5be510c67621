"""Whether what is shown of a set of tables leaves open what is withheld."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint
from scipy.sparse import csr_array

from wornby.survey.suppression import Array, Figures, Mask, solved

THOUSAND = 1000
"""Shares are reckoned in thousandths, so that whole numbers are all that is solved with."""


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


def hidden(
    figures: Figures, withheld: Mask, *, protection: int, share: RoundedShare | None = None
) -> bool:
    """Whether what is shown leaves every small figure, and each other withheld one, open.

    Small ones by `protection`, others by 1; and by 1 those guessed to be small for who has
    guessed so of all. A `share` may be shown besides the counts. The least and the most of each
    are solved for, unless fillings found before show them far enough apart.
    """
    agreeing = _shown_constraints(figures, withheld, share)
    wanted = np.where(figures.small, protection, 1) * withheld
    if not _apart(figures, wanted, agreeing):
        return False
    small = csr_array(figures.rows[figures.guessed])
    guess = LinearConstraint(small, 1, figures.guessed_most)
    return _apart(figures, figures.guessed.astype(np.int64), [*agreeing, guess])


def _apart(
    figures: Figures, wanted: NDArray[np.int64], constraints: list[LinearConstraint]
) -> bool:
    """Whether the fillings that agree leave each figure as far open as wanted."""
    fillings = figures.truth[None, :]
    for figure in np.flatnonzero(wanted).tolist():
        for sign in (1.0, -1.0):
            if np.ptp(fillings @ figures.rows[figure]) >= wanted[figure]:
                break
            found = _extreme(figures, sign * figures.rows[figure], constraints)
            fillings = np.vstack([fillings, found])
        if np.ptp(fillings @ figures.rows[figure]) < wanted[figure]:
            return False
    return True


def _shown_constraints(
    figures: Figures, withheld: Mask, share: RoundedShare | None
) -> list[LinearConstraint]:
    """What fillings have to agree with: all that is shown, and what is known anyway."""
    shown, told = figures.values[~withheld], figures.known @ figures.truth
    return [
        LinearConstraint(csr_array(figures.rows[~withheld]), shown, shown),
        LinearConstraint(csr_array(figures.known), told, told),
        *([] if share is None else share.constraints()),
    ]


def _extreme(figures: Figures, objective: Array, constraints: list[LinearConstraint]) -> Array:
    """The filling that agrees and makes the objective least."""
    found = solved(objective, constraints, Bounds(0, figures.most_in_cell))
    if found.x is None:
        raise AssertionError(f"what is shown contradicts itself: {found.message}")
    return np.asarray(np.round(found.x))
