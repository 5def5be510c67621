"""A survival curve thinned until no step of it is the story of a few."""

import numpy as np
import polars as pl

from wornby.curves.intervals import turnbull
from wornby.histories.counts import Counts
from wornby.survey.thresholds import Thresholds

STEPS = {"years": 1.0, "miles": 10_000.0, "kilometres": 20_000.0}
"""Ages and distances at which a curve may fall: round ones, that are nobody's own."""
SCHEMA = {"at": pl.Float64, "survival": pl.Float64, "watched": pl.Int64}


def publishable_steps(counts: Counts, lives: pl.DataFrame, thresholds: Thresholds) -> pl.DataFrame:
    """Where a survey's curve may be shown: at, survival, watched.

    The curve is Turnbull's, of weighted `counts`. `lives` has the same lives unweighted, a row
    each: entry, lower, upper. The curve falls only at multiples of `STEPS`, and only once
    `minimum_cell` more lives have ended, each no later than its upper bound, and none or as many
    are left to end; by as many lives it falls. It breaks off where fewer than `minimum_base` are
    still watched. Survival is in whole per cent, and the watched are rounded down to a multiple
    of `minimum_cell`, so that nobody's leaving shows.
    EstimateError: no lives.

    >>> ages = [2.5] * 3 + [3.5] * 4 + [float("inf")] * 20
    >>> lives = pl.DataFrame({"entry": 0.0, "lower": 3.5, "upper": ages}).with_columns(
    ...     lower=pl.min_horizontal("upper", pl.lit(9.0))
    ... )
    >>> counted = Counts(lives.with_columns(count=1.0), "years", what="hose", rule="as told")
    >>> publishable_steps(counted, lives, Thresholds()).rows()
    [(0.0, 1.0, 25), (4.0, 0.74, 20)]
    """
    step, least = STEPS[counts.unit], thresholds.minimum_cell
    ended = np.sort(lives.filter(pl.col("upper").is_finite())["upper"].to_numpy())
    entry = np.sort(lives["entry"].to_numpy())
    left = np.sort(lives.select(_left())["left"].to_numpy())
    grid = step * np.arange(1, int(np.ceil(left.max(initial=0) / step)) + 1)
    watched = np.searchsorted(entry, grid, side="right") - np.searchsorted(left, grid)
    fallen = np.searchsorted(ended, grid, side="right")

    curve = turnbull(counts)
    begun = int((entry <= 0).sum())
    shown = [(0.0, 1.0, begun - begun % least)] if begun >= thresholds.minimum_base else []
    told = 0
    for at, n, down in zip(grid.tolist(), watched.tolist(), fallen.tolist(), strict=True):
        survival = round(float(curve.survival(at)), 2)
        fell = min(down - told, (shown[-1][1] - survival) * lives.height if shown else 0)
        ample = fell >= least and (down == ended.size or ended.size - down >= least)
        if ample and n >= thresholds.minimum_base and at > curve.begins_at:
            shown.append((at, survival, n - n % least))
            told = down
    return pl.DataFrame(shown, schema=SCHEMA, orient="row")


def _left() -> pl.Expr:
    """When a life was last watched: at its end, no later than told, or at the answer."""
    return pl.when(pl.col("upper").is_finite()).then("upper").otherwise("lower").alias("left")
