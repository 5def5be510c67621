"""The log-rank test, against lifelines and its own symmetries.

Published values are in tests/published/.
"""

import numpy as np
import polars as pl
import pytest
from lifelines.statistics import multivariate_logrank_test

from wornby.curves.groups import log_rank
from wornby.errors import EstimateError
from wornby.histories.counts import Counts


def grade(rng: np.random.Generator, n: int, scale: float, *, late: bool = True) -> Counts:
    """Lives of one grade of part; `late`: each watched from an age of its own."""
    entry = rng.integers(0, 4, n).astype(float) if late else np.zeros(n)
    end = entry + np.ceil(scale * rng.weibull(1.5, n) * 4) / 4
    failed = rng.random(n) < 0.7
    table = pl.DataFrame(
        {"entry": entry, "lower": end, "upper": np.where(failed, end, np.inf), "count": 1.0}
    )
    return Counts(table, unit="years", what="water pump", rule="as watched")


def test_three_grades_agree_with_lifelines() -> None:
    rng = np.random.default_rng(3)
    groups = {name: grade(rng, 60, s, late=False) for name, s in [("a", 3), ("b", 4), ("c", 3.5)]}
    rows = pl.concat([c.table.with_columns(group=pl.lit(name)) for name, c in groups.items()])
    theirs = multivariate_logrank_test(
        rows["lower"].to_numpy(), rows["group"].to_numpy(), np.isfinite(rows["upper"].to_numpy())
    )
    ours = log_rank(groups)
    assert ours.statistic == pytest.approx(theirs.test_statistic, rel=1e-9)
    assert ours.p_value == pytest.approx(theirs.p_value, rel=1e-9)
    assert ours.degrees_of_freedom == 2


def test_expected_failures_add_up_to_those_seen() -> None:
    rng = np.random.default_rng(4)
    table = log_rank({"genuine": grade(rng, 50, 5), "aftermarket": grade(rng, 80, 3)}).table
    assert table["expected"].sum() == pytest.approx(table["failures"].sum())


def test_late_entry_is_not_at_risk_before_it() -> None:
    """At 2 only the first group is watched, so its failure there is no evidence at all."""
    first = pl.DataFrame(
        {"entry": [0.0, 0.0], "lower": [2.0, 6.0], "upper": [2.0, 6.0], "count": 1.0}
    )
    second = pl.DataFrame(
        {"entry": [3.0, 3.0], "lower": [5.0, 7.0], "upper": [5.0, 7.0], "count": 1.0}
    )
    groups = {
        name: Counts(table, unit="years", what=name, rule="as watched")
        for name, table in (("first", first), ("second", second))
    }
    result = log_rank(groups)
    assert result.table["expected"].to_list() == pytest.approx(
        [1 + 1 / 3 + 1 / 2, 2 / 3 + 1 / 2 + 1]
    )


def test_equal_groups_are_rejected_at_the_stated_rate() -> None:
    rng = np.random.default_rng(5)
    p_values = [
        log_rank({"a": grade(rng, 40, 4), "b": grade(rng, 60, 4)}).p_value for _ in range(400)
    ]
    assert 0.05 < np.mean(np.array(p_values) < 0.1) < 0.15


def test_refuses_what_cannot_be_compared() -> None:
    rng = np.random.default_rng(6)
    one = grade(rng, 10, 4)
    with pytest.raises(ValueError, match="wanted at least two"):
        log_rank({"only": one})
    idle = Counts(
        pl.DataFrame({"entry": [0.0], "lower": [3.0], "upper": [np.inf], "count": [4.0]}),
        unit="years",
        what="idle",
        rule="as watched",
    )
    with pytest.raises(EstimateError, match="no failure in a, b"):
        log_rank({"a": idle, "b": idle})
    miles = Counts(one.table, unit="miles", what="m", rule="as watched")
    with pytest.raises(ValueError, match="wanted one unit"):
        log_rank({"a": one, "b": miles})
