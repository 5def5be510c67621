"""Do groups fail alike? The log-rank test under delayed entry, for counts."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.stats import chi2

from wornby.curves.at_risk import check_exact, number_at_risk
from wornby.curves.log_ages import Array
from wornby.errors import EstimateError
from wornby.histories.counts import Counts


@dataclass(frozen=True, eq=False, slots=True)
class LogRank:
    """Chi-square for one common curve, and by group the failures seen and to be expected.

    `table` has group, lives, failures, expected, ratio; `covariance` is that of failures less
    expected, in the order of the table.
    """

    statistic: float
    degrees_of_freedom: int
    p_value: float
    table: pl.DataFrame
    covariance: Array


def failures_by_age(counts: Counts, ages: Array) -> Array:
    """How many failed at each of the ages."""
    _, lower, upper, count = counts.columns()
    failed = lower == upper
    places = np.searchsorted(ages, lower[failed])
    return np.bincount(places, count[failed], minlength=ages.size).astype(np.float64)


def failure_ages(groups: Mapping[str, Counts]) -> Array:
    """The distinct failure ages of all groups together."""
    ages = [lower[lower == upper] for _, lower, upper, _ in (c.columns() for c in groups.values())]
    return np.unique(np.concatenate(ages))


def check_groups(groups: Mapping[str, Counts]) -> None:
    """Refuse fewer than two groups, mixed units, bounded failures, and no failure at all.

    ValueError for the first two, EstimateError for the others.
    """
    if len(groups) < 2:
        raise ValueError(f"groups {', '.join(groups) or 'none'}: wanted at least two")
    if len(units := {counts.unit for counts in groups.values()}) > 1:
        raise ValueError(f"groups in {', '.join(sorted(units))}: wanted one unit")
    for counts in groups.values():
        check_exact(counts)
    if not sum(counts.n_failures for counts in groups.values()):
        raise EstimateError(f"no failure in {', '.join(groups)}: nothing to compare")


def log_rank(groups: Mapping[str, Counts]) -> LogRank:
    """Test whether groups share one survival curve (Mantel 1966; Peto & Peto 1972).

    At each failure age the failures are shared out in proportion to the numbers at risk; the
    covariance is that of the hypergeometric distribution. ValueError and EstimateError as
    `check_groups`; EstimateError too where the groups were never at risk at one age.

    >>> def grade(ages: list[float]) -> Counts:
    ...     table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 1.0})
    ...     return Counts(table, unit="years", what="water pump", rule="as watched")
    >>> found = log_rank({"genuine": grade([5.0, 7.0, 9.0]), "cheap": grade([1.0, 2.0, 6.0])})
    >>> round(found.statistic, 2), found.degrees_of_freedom, round(found.p_value, 3)
    (2.56, 1, 0.11)
    """
    check_groups(groups)
    ages = failure_ages(groups)
    at_risk = np.stack([number_at_risk(counts, ages) for counts in groups.values()])
    failed = np.stack([failures_by_age(counts, ages) for counts in groups.values()])
    n, d = at_risk.sum(0), failed.sum(0)
    share = at_risk / n
    expected = (d * share).sum(1)
    spread = d * (n - d) / np.maximum(n - 1, 1)
    covariance = np.diag((spread * share).sum(1)) - (spread * share) @ share.T

    excess = failed.sum(1) - expected
    freedom = int(np.linalg.matrix_rank(covariance))
    statistic = float(excess @ np.linalg.pinv(covariance, hermitian=True) @ excess)
    if not freedom:
        raise EstimateError(f"{', '.join(groups)}: never at risk at the same age: no comparison")
    ratio = pl.when(pl.col("expected") > 0).then(pl.col("failures") / pl.col("expected"))
    table = pl.DataFrame(
        {
            "group": list(groups),
            "lives": [counts.n_lives for counts in groups.values()],
            "failures": failed.sum(1),
            "expected": expected,
        }
    ).with_columns(ratio=ratio)
    p_value = float(chi2.sf(statistic, freedom))
    return LogRank(statistic, freedom, p_value, table, covariance)
