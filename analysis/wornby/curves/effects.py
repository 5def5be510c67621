"""Columns to compare lives by, and a table of their effects with errors by vehicle."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.stats import norm

from wornby.curves.ascent import Summit
from wornby.curves.bands import normal_root
from wornby.curves.hazard_cells import Places
from wornby.curves.lives import check_lives, vehicle_places
from wornby.curves.log_ages import Array
from wornby.errors import EstimateError
from wornby.tables import COUNTS

LARGEST_DOUBT = 5.0  # standard error of a log effect across one standard deviation of a column


@dataclass(frozen=True, eq=False, slots=True)
class Compared:
    """Lives taken apart: ages and counts (n,), vehicles as places (n,), columns `x` (n, p).

    Columns have mean nought and standard deviation one, so that no unit is harder to fit than
    another; `spread` (p,) leads back.
    """

    names: list[str]
    x: Array
    spread: Array
    entry: Array
    lower: Array
    upper: Array
    count: Array
    cluster: Places


def compared(lives: pl.DataFrame, columns: Sequence[str]) -> Compared:
    """Check a frame of lives (see `lives`) with its columns, and take it apart.

    ValueError: a column is not there. EstimateError: a life cannot be, a value is missing,
    nothing varies, nothing failed, or there are no more vehicles than columns.
    """
    if absent := [name for name in columns if name not in lives.columns]:
        raise ValueError(
            f"no column {', '.join(absent)}: wanted some of {', '.join(lives.columns)}"
        )
    check_lives(lives, f"lives by {', '.join(columns)}")
    names, x = design(lives, columns)
    entry, lower, upper, count = (
        lives[name].cast(pl.Float64).to_numpy() for name in COUNTS.columns
    )
    if not np.isfinite(upper).any():
        raise EstimateError(f"{', '.join(names)}: no failure, nothing to compare by")
    cluster = vehicle_places(lives["vehicle"])
    check_vehicles(cluster, names)
    spread = np.where(np.ptp(x, axis=0) > 0, x.std(axis=0), 1.0)
    x = (x - np.average(x, axis=0, weights=count)) / spread
    return Compared(names, x, spread, entry, lower, upper, count, cluster)


def design(lives: pl.DataFrame, columns: Sequence[str]) -> tuple[list[str], Array]:
    """Numbers as they are, words as one column for each but the first in order.

    EstimateError where a value is missing or nothing varies.
    """
    names: list[str] = []
    values: list[Array] = []
    for column in columns:
        series = lives[column]
        if missing := series.null_count():
            raise EstimateError(f"{column}: {missing} of {lives.height} values are missing")
        if series.dtype.is_numeric() or series.dtype == pl.Boolean:
            names.append(column)
            values.append(series.cast(pl.Float64).to_numpy())
            continue
        for word in sorted(series.unique().to_list())[1:]:
            names.append(f"{column}: {word}")
            values.append((series == word).cast(pl.Float64).to_numpy())
    if not names:
        raise EstimateError(f"{', '.join(columns) or 'no column'}: nothing varies to compare by")
    x = np.stack(values, axis=1)
    if not np.isfinite(x).all():
        raise EstimateError(f"{', '.join(names)}: a value is not a finite number")
    return names, x


def check_vehicles(cluster: Places, names: list[str]) -> None:
    """Refuse, with an EstimateError, fewer vehicles than errors by vehicle need."""
    n_vehicles = np.unique(cluster).size
    if n_vehicles <= len(names):
        raise EstimateError(
            f"{', '.join(names)}: lives of {n_vehicles} vehicles, wanted more than {len(names)}"
        )


def trusted_inverse(summit: Summit, names: list[str]) -> Array:
    """Inverse of the information at a maximum; EstimateError where that is none.

    The first columns of the information may be others' (an intercept); the last may be the slope.
    """
    told = ", ".join(names)
    curvature = np.linalg.eigvalsh(-summit.hessian[0])
    if not summit.converged[0] or curvature[0] <= 0:
        raise EstimateError(f"{told}: the comparison runs away or does not converge")
    inverse = np.linalg.inv(-summit.hessian[0])
    before = int(len(inverse) > len(names))
    doubt = np.sqrt(np.diag(inverse))[before : before + len(names)]
    if not np.isfinite(doubt).all() or doubt.max() > LARGEST_DOUBT:
        raise EstimateError(f"{told}: the comparison runs away or the columns are not told apart")
    return inverse


def vehicle_sums(cluster: Places, values: Array, count: Array) -> Array:
    """Sum of values (n, q) over the lives of each vehicle."""
    sums = np.zeros((int(cluster.max()) + 1, values.shape[1]))
    np.add.at(sums, cluster, values * count[:, None])
    return sums


def effect_table(
    names: list[str], log_effect: Array, *, robust: Array, naive: Array, confidence: float
) -> pl.DataFrame:
    """Effects with Wald limits on the log scale: column, effect, lower, upper, errors, p_value.

    An infinite upper limit means that the data set none.
    """
    std_err = np.sqrt(np.diag(robust))
    reach = normal_root(confidence) * std_err
    certain = std_err <= 0
    score = np.abs(log_effect) / np.where(certain, 1.0, std_err)
    with np.errstate(over="ignore"):
        value, lower, upper = (np.exp(log_effect + swing) for swing in (0.0, -reach, reach))
    return pl.DataFrame(
        {
            "column": names,
            "effect": value,
            "lower": lower,
            "upper": upper,
            "std_err": std_err,
            "naive_std_err": np.sqrt(np.diag(naive)),
            "p_value": np.where(certain, 1.0, 2 * norm.sf(score)),
        }
    )
