"""Kaplan-Meier and Nelson-Aalen: laws, small stories and agreement with lifelines.

Published values are in tests/published/.
"""

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lifelines import KaplanMeierFitter, NelsonAalenFitter

from wornby.curves.at_risk import EARLY_RULES
from wornby.curves.nonparametric import kaplan_meier, nelson_aalen
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

LIFE = st.tuples(st.integers(0, 8), st.integers(1, 8), st.booleans(), st.integers(1, 3))


def counts_of(rows: list[tuple[float, float, bool, float]]) -> Counts:
    table = pl.DataFrame(rows, schema=["entry", "exit", "failed", "count"], orient="row")
    bounds = table.select(
        pl.col("entry").cast(pl.Float64),
        lower=pl.col("exit").cast(pl.Float64),
        upper=pl.when("failed").then("exit").otherwise(float("inf")).cast(pl.Float64),
        count=pl.col("count").cast(pl.Float64),
    )
    return Counts(bounds, unit="years", what="brake pipe", rule="as watched")


def test_late_entry_does_not_count_as_at_risk() -> None:
    counts = counts_of([(0, 3, True, 1), (3, 5, False, 1), (2, 5, False, 1)])
    assert kaplan_meier(counts, confidence=0.95).table["at_risk"].to_list() == [2]


def test_a_life_that_ends_as_another_fails_was_still_at_risk() -> None:
    counts = counts_of([(0, 3, True, 1), (0, 3, False, 1), (0, 5, False, 1)])
    assert kaplan_meier(counts, confidence=0.95).table["at_risk"].to_list() == [3]


@pytest.mark.parametrize("seed", range(3))
def test_agrees_with_lifelines_under_delayed_entry(seed: int) -> None:
    rng = np.random.default_rng(seed)
    entry = np.append(np.zeros(20), rng.integers(0, 6, 200)).astype(float)
    end = entry + rng.integers(1, 9, 220)
    failed = rng.random(220) < 0.4
    counts = counts_of(
        [(*row, 1) for row in zip(entry.tolist(), end.tolist(), failed.tolist(), strict=True)]
    )
    curve = kaplan_meier(counts, confidence=0.9)
    theirs = KaplanMeierFitter(alpha=0.1).fit(end, failed, entry=entry)
    ages = curve.table["age"].to_numpy()
    limits = theirs.confidence_interval_.loc[ages].to_numpy()
    assert curve.survival(ages) == pytest.approx(theirs.predict(ages).to_numpy(), abs=1e-12)
    assert curve.table["lower"].to_numpy() == pytest.approx(limits[:, 0], abs=1e-9)
    assert curve.table["upper"].to_numpy() == pytest.approx(limits[:, 1], abs=1e-9)


def test_cumulative_hazard_agrees_with_lifelines() -> None:
    rng = np.random.default_rng(7)
    end, failed = rng.permutation(np.arange(1.0, 81)), rng.random(80) < 0.5
    counts = counts_of(
        [(*row, 1) for row in zip([0.0] * 80, end.tolist(), failed.tolist(), strict=True)]
    )
    theirs = NelsonAalenFitter(nelson_aalen_smoothing=False).fit(end, failed)
    ages = np.arange(1.0, 81)
    ours = nelson_aalen(counts, confidence=0.95).cumulative_hazard(ages)
    assert ours == pytest.approx(theirs.predict(ages).to_numpy(), abs=1e-12)


@given(st.lists(LIFE, min_size=1, max_size=20), st.sampled_from(list(EARLY_RULES)[:2]))
def test_survival_never_rises_and_lies_within_its_limits(
    lives: list[tuple[int, int, bool, int]], early_rule: str
) -> None:
    counts = counts_of([(entry, entry + life, failed, n) for entry, life, failed, n in lives])
    curve = kaplan_meier(counts, confidence=0.9, early_rule=early_rule)
    steps = curve.survival(np.arange(20.0))
    assert (np.diff(steps) <= 0).all()
    assert steps[0] == 1
    known = curve.table.drop_nulls()
    assert (known["lower"] <= known["survival"] + 1e-12).all()
    assert (known["survival"] <= known["upper"] + 1e-12).all()
    assert not known.select(pl.any_horizontal(pl.all().is_nan().any())).item()


@given(st.lists(LIFE, min_size=1, max_size=12))
def test_counts_equal_repeated_rows(lives: list[tuple[int, int, bool, int]]) -> None:
    once = [(entry, entry + life, failed, n) for entry, life, failed, n in lives]
    repeated = [(e, x, f, 1) for e, x, f, n in once for _ in range(n)]
    ours = kaplan_meier(counts_of([(*row,) for row in once]), confidence=0.9).table
    theirs = kaplan_meier(counts_of([(*row,) for row in repeated]), confidence=0.9).table
    assert ours.equals(theirs)


def test_an_early_collapse_is_left_out_and_said() -> None:
    """One life is watched from new and fails at 4; the others enter from 5 on."""
    lives = [(0, 4, True, 1), (5, 9, True, 1), (5, 10, False, 1), (6, 12, True, 1)]
    counts = counts_of([(*life,) for life in lives])
    curve = kaplan_meier(counts, confidence=0.95)
    assert (curve.begins_at, curve.table["age"].to_list()) == (4, [9, 12])
    assert curve.note == "after a collapse: survival is given that 4 years were reached"
    every = kaplan_meier(counts, confidence=0.95, early_rule="from the first watched")
    assert every.survival([4.0, 9.0]).tolist() == [0, 0]


def test_a_late_straggler_does_not_throw_the_early_curve_away() -> None:
    lives = [(0, 3, True, 5), (0, 4, True, 5), (8, 9, True, 1)]
    curve = kaplan_meier(counts_of([(*life,) for life in lives]), confidence=0.95)
    assert curve.begins_at == 0
    assert curve.survival([3.0, 4.0, 9.0]).tolist() == [0.5, 0, 0]


def test_the_curve_can_begin_where_enough_are_watched() -> None:
    lives = [(0, 4, True, 1), (1, 9, False, 2), (3, 8, True, 4), (5, 9, True, 1)]
    counts = counts_of([(*life,) for life in lives])
    assert kaplan_meier(counts, confidence=0.9, early_rule="from five at risk").begins_at == 3
    with pytest.raises(EstimateError, match="at most 7 at risk at once, wanted 20"):
        kaplan_meier(counts, confidence=0.9, early_rule="from twenty at risk")


def test_a_median_that_is_not_reached_is_none() -> None:
    curve = kaplan_meier(counts_of([(0, 3, True, 1), (0, 5, False, 3)]), confidence=0.95)
    assert curve.median.value is None
    assert curve.median.upper == np.inf
    assert curve.median.note == "not reached: survival ends at 0.75"


def test_without_failures_survival_stays_at_one() -> None:
    curve = kaplan_meier(counts_of([(0, 3, False, 2)]), confidence=0.95)
    assert curve.survival([1.0, 9.0]).tolist() == [1, 1]
    assert curve.at_risk([1.0, 3.0, 3.5]).tolist() == [2, 2, 0]


def test_bounded_failures_are_sent_to_turnbull() -> None:
    table = pl.DataFrame({"entry": [0.0], "lower": [1.0], "upper": [2.0], "count": [1.0]})
    counts = Counts(table, unit="years", what="hose", rule="as watched")
    with pytest.raises(EstimateError, match="use turnbull"):
        kaplan_meier(counts, confidence=0.95)
    with pytest.raises(EstimateError, match="use turnbull"):
        nelson_aalen(counts, confidence=0.95)


def test_an_unknown_early_rule_is_a_plain_error() -> None:
    with pytest.raises(ValueError, match="wanted one of"):
        kaplan_meier(counts_of([(0, 1, True, 1)]), confidence=0.9, early_rule="none")


def test_weights_add_hazard_as_shares_by_hand() -> None:
    """2 of 5.5 fail at 2, then 0.5 of 2.5 at 4; variances are failures over at-risk squared."""
    counts = counts_of([(0, 2, True, 2), (0, 3, False, 1), (1, 4, True, 0.5), (0, 6, False, 2)])
    table = nelson_aalen(counts, confidence=0.9).table
    assert table["at_risk"].to_list() == [5.5, 2.5]
    assert table["cumulative_hazard"].to_list() == pytest.approx([2 / 5.5, 2 / 5.5 + 0.2])
    assert table["std_err"].to_numpy() ** 2 == pytest.approx(
        [2 / 5.5**2, 2 / 5.5**2 + 0.5 / 2.5**2]
    )


def test_a_quantile_reached_where_all_fail_at_once_has_both_limits() -> None:
    """All five fail at 4, so the band says nothing: between the beginning and no end."""
    found = kaplan_meier(counts_of([(0, 4, True, 5)]), confidence=0.9).median
    assert (found.lower, found.value, found.upper) == (0, 4, np.inf)


def test_quantile_limits_under_late_entry_hold_as_often_as_stated() -> None:
    """The limits of Brookmeyer & Crowley, given that 2 years were reached (computed by us)."""
    rng, held = np.random.default_rng(9), 0
    truth = 8 * (np.log(2) + (2 / 8) ** 2) ** 0.5
    for _ in range(200):
        entry = np.where(rng.random(120) < 0.3, 2.0, rng.uniform(2, 6, 120))
        life = 8 * ((entry / 8) ** 2 + rng.exponential(size=120)) ** 0.5
        end = np.minimum(life, entry + rng.uniform(2, 9, 120))
        failed = (life <= end).tolist()
        rows = zip(entry.tolist(), end.tolist(), failed, [1.0] * 120, strict=True)
        found = kaplan_meier(counts_of(list(rows)), confidence=0.9, begins_at=2.0).median
        assert found.lower is not None
        assert found.upper is not None
        held += found.lower <= truth <= found.upper
    assert 166 <= held <= 194
