"""Model years and versions put together until every cell has answers enough."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

Array = NDArray[np.float64]

LEAST_ANSWERS = 5
"""A group to weight by, or a cell to show, has at least so many answers.

With fewer, one owner more or less moves a weight by a quarter and more, and members could tell
whose van is meant. Five is the usual floor of official tables (common practice, no source).
"""

LEAST_BASE = 10
"""A finding rests on at least so many answers.

With fewer, the interval of a share spans half of all there could be, and who knows the members
knows who said what. Ten is a usual floor of surveys (common practice, no source).
"""


def joined_versions(answered: dict[str, int], *, least: int = LEAST_ANSWERS) -> dict[str, str]:
    """Each version's name or, where too few answered, that of those it is put together with.

    The version with the fewest answers joins the next until all have so many.

    >>> joined_versions({"short": 40, "long": 6, "high-roof": 2})
    {'short': 'short', 'long': 'high-roof or long', 'high-roof': 'high-roof or long'}
    """
    groups: dict[tuple[str, ...], int] = {(version,): n for version, n in answered.items()}
    while len(groups) > 1 and min(groups.values()) < least:
        fewest, next_fewest = sorted(groups, key=lambda group: (groups[group], group))[:2]
        together = tuple(sorted(fewest + next_fewest))
        groups[together] = groups.pop(fewest) + groups.pop(next_fewest)
    names = {version: " or ".join(group) for group in groups for version in group}
    return {version: names[version] for version in answered}


def runs(
    answered: Array, on_the_road: Array, *, least_in_cell: int, least: int = LEAST_ANSWERS
) -> NDArray[np.int64]:
    """Number the shortest runs of rows with answers enough: one number a row, from 0.

    Both tables have a row for each step and a column for each version. A run ends once it has
    the `least` answers, and `least_in_cell` for every version that was on the road; what is
    left at the end goes with the run before.

    >>> answered = np.array([[3.0, 0.0], [4.0, 2.0], [1.0, 5.0], [9.0, 0.0]])
    >>> runs(answered, np.full((4, 2), 100.0), least_in_cell=1)
    array([0, 0, 1, 1])
    """

    def enough(begin: int, end: int) -> bool:
        seen, there = (table[begin:end].sum(axis=0) for table in (answered, on_the_road))
        met = (seen >= least_in_cell) | (there == 0)
        return bool(met.all() and seen.sum() >= least)

    n, begins = len(answered), [0]
    for end in range(1, n):
        if enough(begins[-1], end):
            begins.append(end)
    while len(begins) > 1 and not enough(begins[-1], n):
        begins.pop()
    return np.searchsorted(begins, np.arange(n), side="right") - 1


def grouped(counts: pl.DataFrame) -> pl.DataFrame:
    """Say of each model year and version in which groups it is weighted and shown.

    `counts` has model_year, version, on_the_road and answered. Added are version_group;
    weight_group, runs of model years in which every version on the road has an answer; and
    shown_group, runs of these in which every such version has `LEAST_ANSWERS`.
    """
    by_version = counts.group_by("version").agg(pl.col("answered").sum()).sort("version")
    joined = joined_versions(dict(by_version.iter_rows()))
    named = counts.with_columns(version_group=pl.col("version").replace_strict(joined))
    weighted = _with_runs(named, "model_year", "weight_group", least_in_cell=1)
    return _with_runs(weighted, "weight_group", "shown_group", least_in_cell=LEAST_ANSWERS)


def crossed(frame: pl.DataFrame, rows: str, columns: str, value: str) -> Array:
    """The sums of a value as a table: the values of two columns crossed, in order."""
    row_names, row = np.unique(frame[rows].to_numpy(), return_inverse=True)
    column_names, column = np.unique(frame[columns].to_numpy(), return_inverse=True)
    table = np.zeros((row_names.size, column_names.size))
    np.add.at(table, (row, column), frame[value].to_numpy())
    return table


def _with_runs(frame: pl.DataFrame, by: str, into: str, *, least_in_cell: int) -> pl.DataFrame:
    """Add the run of each row, runs taken over the values of `by` in order."""
    answered, on_the_road = (
        crossed(frame, by, "version_group", what) for what in ("answered", "on_the_road")
    )
    numbers = runs(answered, on_the_road, least_in_cell=least_in_cell)
    steps = frame[by].unique().sort()
    return frame.with_columns(pl.col(by).replace_strict(steps, pl.Series(numbers)).alias(into))
