"""Entries and exits counted apart tell a curve the same, in fewer rows."""

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wornby.curves.groups import log_rank
from wornby.curves.marginals import count_ages, marginal_counts
from wornby.curves.nonparametric import kaplan_meier
from wornby.curves.parametric import weibull
from wornby.errors import EstimateError
from wornby.histories.counts import Counts, count_episodes

LIFE = st.tuples(
    st.integers(0, 9), st.integers(1, 9), st.booleans(), st.sampled_from([1.0, 2.0, 0.5])
)


def counts_of(lives: list[tuple[int, int, bool, float]]) -> Counts:
    table = pl.DataFrame(
        {
            "entry": [float(e) for e, _, _, _ in lives],
            "lower": [float(e + x) for e, x, _, _ in lives],
            "upper": [float(e + x) if f else np.inf for e, x, f, _ in lives],
            "count": [n for _, _, _, n in lives],
        }
    )
    return Counts(table, unit="years", what="seal", rule="as watched")


@given(st.lists(LIFE, min_size=1, max_size=30))
def test_risk_sets_and_failures_stay_as_they_were(
    lives: list[tuple[int, int, bool, float]],
) -> None:
    counts = counts_of(lives)
    fewer = marginal_counts(counts)
    ours, theirs = (kaplan_meier(c, confidence=0.9).table for c in (fewer, counts))
    for column in ("age", "at_risk", "failures"):
        assert ours[column].to_numpy() == pytest.approx(theirs[column].to_numpy())
    assert fewer.n_lives == pytest.approx(counts.n_lives)
    assert fewer.table.height <= 19 + 2 * 18


def test_fits_and_tests_stay_as_they_were() -> None:
    rng = np.random.default_rng(1)
    groups = {}
    for name, scale in (("a", 900), ("b", 700)):
        entry = rng.integers(0, 300, 400)
        end = entry + 1 + (scale * rng.weibull(2, 400)).astype(int)
        lives = zip(
            entry.tolist(), (end - entry).tolist(), (rng.random(400) < 0.5).tolist(), strict=True
        )
        groups[name] = counts_of([(*life, 1.0) for life in lives])
    fewer = {name: marginal_counts(counts) for name, counts in groups.items()}
    assert log_rank(fewer).statistic == pytest.approx(log_rank(groups).statistic)
    ours, theirs = weibull(fewer["a"]), weibull(groups["a"])
    assert ours.shape == pytest.approx(theirs.shape, rel=1e-9)
    assert ours.log_likelihood == pytest.approx(theirs.log_likelihood, rel=1e-12)


def test_straight_from_episodes_equals_the_long_way() -> None:
    rng = np.random.default_rng(2)
    entry = rng.integers(0, 50, 500)
    episodes = pl.DataFrame(
        {
            "entry_days": entry,
            "exit_days": entry + rng.integers(0, 60, 500),
            "failed": rng.random(500) < 0.4,
            "weight": rng.choice([1.0, 0.5], 500),
        }
    )
    episodes = episodes.with_columns(sound_days="exit_days")
    short = count_ages(episodes, what="seal", rule="as watched")
    long = count_episodes(episodes, unit="years", what="seal", rule="as watched")
    assert short.table.height < long.table.height
    ours, theirs = (kaplan_meier(c, confidence=0.9).table for c in (short, long))
    assert ours["at_risk"].to_numpy() == pytest.approx(theirs["at_risk"].to_numpy())
    assert ours["survival"].to_numpy() == pytest.approx(theirs["survival"].to_numpy())


def test_refuses_bounds_and_no_time_at_risk() -> None:
    bounded = pl.DataFrame({"entry": [0.0], "lower": [1.0], "upper": [2.0], "count": [1.0]})
    with pytest.raises(EstimateError, match="use turnbull"):
        marginal_counts(Counts(bounded, unit="years", what="seal", rule="as watched"))
    visits = pl.DataFrame(
        {"entry_days": [0], "sound_days": [300], "exit_days": [400], "failed": [True]}
    )
    with pytest.raises(EstimateError, match="1 failures known only between two visits"):
        count_ages(visits.with_columns(weight=1.0), what="seal", rule="as watched")
    idle = pl.DataFrame({"entry": [1.0], "lower": [1.0], "upper": [np.inf], "count": [1.0]})
    with pytest.raises(EstimateError, match="no life was watched"):
        marginal_counts(Counts(idle, unit="years", what="seal", rule="as watched"))
