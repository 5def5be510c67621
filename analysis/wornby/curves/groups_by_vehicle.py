"""Do two groups fail alike, where the parts of one vehicle may fail together?"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.stats import chi2

from wornby.curves.effects import vehicle_sums
from wornby.curves.episode_lives import counts_of
from wornby.curves.groups import log_rank
from wornby.curves.log_ages import Array
from wornby.curves.proportional_hazards import lives_with, score_residuals, ties
from wornby.errors import EstimateError


@dataclass(frozen=True, slots=True)
class RankByVehicle:
    """The log-rank test of two groups, held back by what the parts of a vehicle have in common.

    `excess` is failures of the marked group beyond those to be expected of it; `design_effect`
    how many times larger its variance is for the parts of a vehicle failing together, at least 1.
    """

    statistic: float
    p_value: float
    excess: float
    design_effect: float


def log_rank_by_vehicle(lives: pl.DataFrame, column: str, *, unit: str) -> RankByVehicle:
    """Test whether those that a column marks fail as often, at equal age, as the others.

    The log-rank test (Mantel 1966), its variance raised by the design effect of vehicles (as Rao
    & Scott 1992 do with counts): the variance of the score by vehicle (Lin & Wei 1989) over the
    same by part. Without parts in common it is the log-rank test, and it stands where one group
    has no failure. `lives` has vehicle, entry, lower, upper, count and the column, true or false.
    EstimateError: bounded failures, no failure, one group only, one vehicle only, or groups that
    were never at risk together.

    >>> ages = [3.0, 4.0, 5.0, 6.0, 7.0, 6.0, 8.0, 9.0, 10.0, 12.0]
    >>> lives = pl.DataFrame({"vehicle": list("abcdefghij"), "lower": ages}).with_columns(
    ...     short=pl.Series([True] * 5 + [False] * 5), entry=0.0, upper="lower", count=1.0
    ... )
    >>> alone = log_rank_by_vehicle(lives, "short", unit="years")
    >>> twice = log_rank_by_vehicle(pl.concat([lives, lives]), "short", unit="years")
    >>> round(alone.p_value, 3), alone.design_effect, round(twice.design_effect, 2)
    (0.009, 1.0, 2.0)
    """
    if lives[column].n_unique() < 2:
        raise EstimateError(f"{column}: nothing varies to compare by")
    marked, others = (
        counts_of(own, unit=unit, what=column, rule="day found")
        for own in (lives.filter(column), lives.filter(~pl.col(column)))
    )
    tested = log_rank({"marked": marked, "others": others})
    effect = _design_effect(lives, column)
    row = tested.table.row(0, named=True)
    statistic = tested.statistic / effect
    p_value = float(chi2.sf(statistic, 1))
    return RankByVehicle(statistic, p_value, row["failures"] - row["expected"], effect)


def _design_effect(lives: pl.DataFrame, column: str) -> float:
    """Variance of the log-rank score by vehicle over that by part, at least 1."""
    seen = lives_with(lives, [column])
    pulls: Array = score_residuals(seen, ties(seen), np.zeros(1))
    by_vehicle = vehicle_sums(seen.cluster, pulls, seen.count)
    by_part = float((pulls[:, 0] ** 2) @ seen.count)
    return max(1.0, float((by_vehicle**2).sum()) / by_part)
