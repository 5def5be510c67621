"""How much of a club's answers is shown, and how far what is withheld stays open.

Run from tests/ as `python -m studies.disclosure 200`: two hundred clubs drawn at random, each
attacked with whole numbers. Writes disclosure.csv: for clubs of each size, what part of the
numbers is shown, and by how much the least and the most of each small number withheld differ, for
a reader who knows the weights, and for one who has also guessed which are withheld for being small.
"""

import sys
import tempfile
from itertools import pairwise
from pathlib import Path

import numpy as np
import polars as pl
from survey.attacks import Attack, Withheld, attacked
from survey.drawn_clubs import drawn_clubs

from wornby.survey.thresholds import Thresholds

TABLE = Path(__file__).with_suffix(".csv")
SIZES = (15, 40, 70, 121)


def open_by(attack: Attack, one: Withheld) -> float:
    """By how much the least and the most that a number could be differ."""
    ends = [float(one.row @ attack.solution(sign * one.row)) for sign in (1.0, -1.0)]
    return ends[1] - ends[0]


def guessed(attack: Attack, small: list[Withheld], least: int) -> Attack:
    """What a reader knows who has guessed which numbers are small ones."""
    known = Attack(attack.members, [*attack.rows], [*attack.least], [*attack.most])
    for one in small:
        known.told(one.row, 1, least - 1)
    return known


def rows_of_clubs(clubs: int) -> pl.DataFrame:
    """A row for each component of each club."""
    limits, rows = Thresholds(), []
    with tempfile.TemporaryDirectory() as folder:
        for club in drawn_clubs(Path(folder), range(clubs), limits):
            for attack, hidden in attacked(club):
                small = [one for one in hidden if 0 < one.truth < limits.minimum_cell]
                known = guessed(attack, small, limits.minimum_cell)
                shown = len(attack.rows) - attack.members.size - 2
                rows.append(
                    {
                        "members": club.sheet.height,
                        "shown": shown,
                        "withheld": len(hidden),
                        "small": len(small),
                        "open_by": [open_by(attack, one) for one in small],
                        "open_by_if_guessed": [open_by(known, one) for one in small],
                    }
                )
    return pl.DataFrame(rows)


def summary(rows: pl.DataFrame) -> pl.DataFrame:
    """By size of the club: numbers shown and withheld, and how far the small ones stay open."""
    size = np.searchsorted(SIZES, rows["members"].to_numpy(), side="right") - 1
    opened = (pl.col("open_by").explode(), pl.col("open_by_if_guessed").explode())
    return (
        rows.with_columns(members=pl.Series([LABELS[n] for n in size]))
        .group_by("members")
        .agg(
            components=pl.len(),
            shown=pl.col("shown").sum(),
            withheld=pl.col("withheld").sum(),
            small=pl.col("small").sum(),
            least_open_by=opened[0].min(),
            median_open_by=opened[0].median(),
            least_open_if_guessed=opened[1].min(),
            settled_if_guessed=(opened[1] == 0).sum(),
        )
        .sort("members")
    )


LABELS = [f"{a} to {b - 1}" for a, b in pairwise(SIZES)]

if __name__ == "__main__":
    np.seterr(all="raise")
    told = summary(rows_of_clubs(int(sys.argv[1])))
    told.write_csv(TABLE)
    print(told)
