"""Columns to compare lives by, and a table of their effects with errors by vehicle."""

from collections.abc import Sequence

import numpy as np
import polars as pl
from scipy.stats import norm

from wornby.curves.ascent import Summit
from wornby.curves.bands import normal_root
from wornby.curves.hazard_cells import Places
from wornby.curves.log_ages import Array
from wornby.errors import EstimateError

LARGEST_DOUBT = 5.0  # standard error of a log effect across one standard deviation of a column


def design(lives: pl.DataFrame, columns: Sequence[str]) -> tuple[list[str], Array]:
    """Numbers as they are, words as one column for each but the first in order."""
    names: list[str] = []
    values: list[Array] = []
    for column in columns:
        series = lives[column]
        if series.dtype.is_numeric() or series.dtype == pl.Boolean:
            names.append(column)
            values.append(series.cast(pl.Float64).to_numpy())
            continue
        for word in sorted(series.unique().to_list())[1:]:
            names.append(f"{column}: {word}")
            values.append((series == word).cast(pl.Float64).to_numpy())
    if not names:
        raise EstimateError(f"{', '.join(columns) or 'no column'}: nothing varies to compare by")
    return names, np.stack(values, axis=1)


def check_vehicles(cluster: Places, names: list[str]) -> None:
    """Refuse fewer vehicles than errors by vehicle need."""
    n_vehicles = np.unique(cluster).size
    if n_vehicles <= len(names):
        raise EstimateError(
            f"{', '.join(names)}: lives of {n_vehicles} vehicles, wanted more than {len(names)}"
        )


def trusted_inverse(summit: Summit, names: list[str], spread: Array) -> Array:
    """Inverse of the information at a maximum; refuses a maximum that is none.

    The first columns of the information may be others' (an intercept); the last may be the
    slope: `spread` is that of the compared columns, in their order.
    """
    told = ", ".join(names)
    curvature = np.linalg.eigvalsh(-summit.hessian[0])
    if not summit.converged[0] or curvature[0] <= 0:
        raise EstimateError(f"{told}: the comparison runs away or does not converge")
    inverse = np.linalg.inv(-summit.hessian[0])
    before = int(len(inverse) > len(names))
    doubt = np.sqrt(np.diag(inverse))[before : before + len(names)] * spread
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
    """Effects with Wald limits on the log scale: column, effect, lower, upper, errors, p_value."""
    std_err = np.sqrt(np.diag(robust))
    reach = normal_root(confidence) * std_err
    certain = std_err <= 0
    score = np.abs(log_effect) / np.where(certain, 1.0, std_err)
    return pl.DataFrame(
        {
            "column": names,
            "effect": np.exp(log_effect),
            "lower": np.exp(log_effect - reach),
            "upper": np.exp(log_effect + reach),
            "std_err": std_err,
            "naive_std_err": np.sqrt(np.diag(naive)),
            "p_value": np.where(certain, 1.0, 2 * norm.sf(score)),
        }
    )
