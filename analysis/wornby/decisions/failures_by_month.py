"""Failures month by month: those of the records' last years, and those to expect."""

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.expected import MOST_DRAWS, failing

MONTHS_A_YEAR = 12


def monthly_means(
    draws: WeibullDraws,
    ages_years: ArrayLike,
    *,
    months: int,
    years_ahead: ArrayLike,
    return_chance: ArrayLike,
    renewed_first: ArrayLike = 0.0,
    guessed: ArrayLike = False,
) -> NDArray[np.float64]:
    """Failures to expect in each month ahead: one row a draw, one column a month.

    One age for each part in service now; `years_ahead` is how far a year takes it on the
    curve's scale, `return_chance` the chance that its vehicle comes back here; `renewed_first`
    over a year and `guessed` are as in `expected.failing`.

    >>> certain = WeibullDraws(np.array([1.0]), np.array([10.0]), "years")
    >>> told = monthly_means(certain, [3.0] * 120, months=2, years_ahead=1.0, return_chance=1.0)
    >>> told.round(3).tolist()
    [[0.996, 0.988]]
    """
    few = draws.thinned(MOST_DRAWS)
    ages = np.atleast_1d(np.asarray(ages_years, dtype=np.float64))
    ahead = np.broadcast_to(np.asarray(years_ahead, dtype=np.float64), ages.shape)
    returns = np.broadcast_to(np.asarray(return_chance, dtype=np.float64), ages.shape)
    failed = failing(
        few,
        ages,
        ahead,
        renewed_first=renewed_first,
        guessed=guessed,
        shares=[month / MONTHS_A_YEAR for month in range(1, months + 1)],
    )
    return np.diff(np.column_stack([fails @ returns for fails in failed]), axis=1, prepend=0.0)


def monthly_counts(means: NDArray[np.float64], *, confidence: float) -> pl.DataFrame:
    """Each month's failures to expect with their interval: month, expected, lower, upper.

    Given the curve a month's count is nearly Poisson, for each part's chance is small (Le Cam
    1960, the bound is the sum of their squares); over the draws it is a mixture of these.

    >>> monthly_counts(np.full((10, 1), 4.0), confidence=0.9).row(0)
    (1, 4.0, 1, 8)
    """
    most = int(stats.poisson.ppf(1 - 1e-6, means.max())) + 1
    counts = np.arange(most + 1)
    rows = []
    for month, mean in enumerate(means.T, start=1):
        at_most = np.cumsum(stats.poisson.pmf(counts[None, :], mean[:, None]).mean(axis=0))
        lower, upper = np.searchsorted(at_most, [(1 - confidence) / 2, (1 + confidence) / 2])
        rows.append((month, float(mean.mean()), int(lower), int(upper)))
    columns = ["month", "expected", "lower", "upper"]
    return pl.DataFrame(rows, schema=columns, orient="row")
