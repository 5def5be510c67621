"""What is shown of one component's answers, as figures of which some may have to be withheld."""

from dataclasses import dataclass
from itertools import product

import numpy as np
import polars as pl

from wornby.survey.left_open import THOUSAND, RoundedShare, hidden
from wornby.survey.suppression import Array, Figures, Mask, figures_shown, suppressed
from wornby.survey.thresholds import Thresholds

STATES = ("renewed", "original", "unsure")
COUNTED = ("answers", *STATES)
COSTS = {"answers": 3.0, "renewed": 2.0, "original": 2.0, "unsure": 1.0, "base": 8.0}
"""What a reader misses when a figure is withheld; of the whole club it is twice as much."""
LIVES = ("renewed with a life", "original with a life")
WHOLE_CLUB = ("whole", 0)
SHARE_STEPS = (0.01, 0.05, 0.1)
"""To what a share is rounded: the first that gives no withheld number away."""


@dataclass(frozen=True, eq=False, slots=True)
class ToldFigures:
    """A component's figures, and what each is: ((grouping, number of the group), what).

    `years` has for each group of model years shown of this component the numbers of those put
    together. `share` is that of renewed parts among those known, weighted, as finely rounded as
    may be shown; None where it may not be, or nobody knows.
    """

    figures: Figures
    withheld: Mask
    names: tuple[tuple[tuple[str, int], str], ...]
    years: tuple[tuple[int, ...], ...]
    share: RoundedShare | None


def told_figures(said: pl.DataFrame, strata: pl.DataFrame, thresholds: Thresholds) -> ToldFigures:
    """The figures of a component.

    `strata` has for each stratum its numbers of version and years, its weight and members.
    `said` has for each respondent who said anything stratum, state and has_life.
    """
    table = np.zeros((strata.height, len(STATES)))
    place = said["state"].replace_strict(STATES, range(len(STATES)), return_dtype=pl.Int64)
    np.add.at(table, (said["stratum"].to_numpy(), place.to_numpy()), 1)
    members = strata["members"].to_numpy().astype(np.float64)
    with_life = [said.filter("has_life", state=state).height for state in STATES[:2]]
    cells = _Cells(table, members, np.array(with_life, dtype=np.float64))
    years = _years_together(table, strata["years"].to_numpy(), thresholds)
    groups = {WHOLE_CLUB: np.ones(strata.height)} | _groups(strata, years)
    return _told(cells, groups, years, strata["weight"].to_numpy(), thresholds)


@dataclass(frozen=True, eq=False, slots=True)
class _Cells:
    """The cells behind the figures: by stratum what was said, nothing said, and lives made."""

    said: Array
    members: Array
    with_life: Array

    @property
    def truth(self) -> Array:
        """Said by stratum, then silent by stratum, lives, and answers without a life."""
        silent = self.members - self.said.sum(axis=1)
        without = self.said[:, :2].sum(axis=0) - self.with_life
        return np.concatenate([self.said.ravel(), silent, self.with_life, without])

    def known(self) -> Array:
        """How many there are in each stratum, and how many answers made no life.

        The latter because it is next to none: a reader who takes it for none is mostly right.
        """
        n, lives = len(self.said), np.hstack([-np.eye(2), -np.eye(2)])
        without = np.hstack([np.zeros((2, 4 * n + 2)), np.eye(2)])
        all_said = np.hstack([np.kron(np.eye(n), np.ones(3)), np.eye(n), np.zeros((n, 4))])
        of_state = np.vstack([self.row(np.ones(n), s)[: 4 * n] for s in STATES[:2]])
        return np.vstack([all_said, np.hstack([of_state, lives]), without])

    def row(self, weights: Array, what: str) -> Array:
        """What a figure sums: answers of a state, or of all, by stratum; or the lives."""
        n = len(self.said)
        row = np.zeros(4 * n + 4)
        if what == "base":
            row[4 * n : 4 * n + 2] = 1
            return row
        state = np.ones(3) if what == "answers" else np.eye(3)[STATES.index(what)]
        row[: 3 * n] = np.kron(weights, state)
        return row


def _told(
    cells: _Cells,
    groups: dict[tuple[str, int], Array],
    years: tuple[tuple[int, ...], ...],
    weights: Array,
    thresholds: Thresholds,
) -> ToldFigures:
    names = [*product(groups, COUNTED), (WHOLE_CLUB, "base")]
    rows = np.array([cells.row(groups[group], what) for group, what in names])
    cost = [COSTS[what] * (2 if group == WHOLE_CLUB else 1) for group, what in names]
    told = dict(zip(names, rows @ cells.truth, strict=True))
    figures = figures_shown(
        rows,
        cells.truth,
        small=[_small(told, name, thresholds) for name in names],
        cost=cost,
        known=cells.known(),
        guessed_most=thresholds.minimum_cell - 1,
    )
    withheld = suppressed(figures, protection=thresholds.protection)
    counts = [names.index((WHOLE_CLUB, state)) for state in STATES[:2]]
    share = None
    if not withheld[counts].any():
        thousandths = np.round(THOUSAND * weights)
        part = cells.row(thousandths, "renewed")
        both = part + cells.row(thousandths, "original")
        share = _share(figures, withheld, part, both, thresholds)
    return ToldFigures(figures, withheld, tuple(names), years, share)


def _share(
    figures: Figures, withheld: Mask, part: Array, whole: Array, thresholds: Thresholds
) -> RoundedShare | None:
    """The share as finely rounded as leaves every withheld number open, if any does."""
    if not whole @ figures.truth > 0:
        return None
    exact = float(part @ figures.truth / (whole @ figures.truth))
    for step in SHARE_STEPS:
        share = RoundedShare(part, whole, round(round(exact / step) * step, 2), step)
        if hidden(figures, withheld, protection=thresholds.protection, share=share):
            return share
    return None


def _small(
    told: dict[tuple[tuple[str, int], str], float],
    name: tuple[tuple[str, int], str],
    thresholds: Thresholds,
) -> bool:
    """Whether a figure must not be shown: a small number, or part of a finding on a small base."""
    group, what = name
    base = told[group, "answers"]
    if what in STATES and 0 < base < thresholds.minimum_base:
        return True
    least = thresholds.minimum_base if what == "base" else thresholds.minimum_cell
    return 0 < told[name] < least


def _groups(
    strata: pl.DataFrame, years: tuple[tuple[int, ...], ...]
) -> dict[tuple[str, int], Array]:
    """Which strata each group shown holds; a grouping into one group is none."""
    version, year = (strata[name].to_numpy() for name in ("version", "years"))
    by_version = {("version", int(n)): version == n for n in np.unique(version)}
    by_years = {("years", n): np.isin(year, together) for n, together in enumerate(years)}
    kept = [by for by in (by_version, by_years) if len(by) > 1]
    return {group: held.astype(np.float64) for by in kept for group, held in by.items()}


def _years_together(
    table: Array, year: np.ndarray, thresholds: Thresholds
) -> tuple[tuple[int, ...], ...]:
    """Adjacent groups of model years, put together until no number in them is small.

    What few in the whole club said is withheld and holds no group up.
    """
    told = np.array([table[year == n].sum(axis=0) for n in range(int(year.max()) + 1)])
    ample = told.sum(axis=0) >= thresholds.minimum_cell

    def enough(group: tuple[int, ...]) -> bool:
        said = told[list(group)].sum(axis=0)
        held = (said >= thresholds.minimum_cell) | (said == 0) | ~ample
        return bool(held.all() and said.sum() >= thresholds.minimum_base)

    groups: list[tuple[int, ...]] = [()]
    for n in range(len(told)):
        if groups[-1] and enough(groups[-1]):
            groups.append(())
        groups[-1] = (*groups[-1], n)
    while len(groups) > 1 and not enough(groups[-1]):
        last = groups.pop()
        groups[-1] += last
    return tuple(groups)
