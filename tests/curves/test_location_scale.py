"""Lognormal and log-logistic fits, against lifelines where it can do the same."""

import numpy as np
import polars as pl
import pytest
from lifelines import LogLogisticFitter, LogNormalFitter

from wornby.curves.location_scale import log_logistic, lognormal
from wornby.errors import EstimateError
from wornby.histories.counts import Counts


def watched(n: int, seed: int) -> Counts:
    rng = np.random.default_rng(seed)
    entry, life = rng.uniform(0, 6, n), np.exp(rng.normal(2, 0.5, n))
    seen = life > entry
    entry, life = entry[seen], life[seen]
    end = np.minimum(life, entry + 6)
    upper = np.where(life > end, np.inf, end)
    table = pl.DataFrame({"entry": entry, "lower": end, "upper": upper, "count": 1.0})
    return Counts(table, unit="years", what="bush", rule="as watched")


@pytest.mark.parametrize("seed", range(3))
def test_lognormal_agrees_with_lifelines(seed: int) -> None:
    counts = watched(250, seed)
    entry, lower, upper, _ = counts.columns()
    theirs = LogNormalFitter().fit(lower, np.isfinite(upper), entry=entry)
    ours = lognormal(counts)
    assert ours.location == pytest.approx(theirs.mu_, rel=1e-4)
    assert ours.spread == pytest.approx(theirs.sigma_, rel=1e-4)
    assert ours.log_likelihood >= theirs.log_likelihood_ - 1e-9


@pytest.mark.parametrize("seed", range(3))
def test_log_logistic_agrees_with_lifelines(seed: int) -> None:
    counts = watched(250, seed)
    entry, lower, upper, _ = counts.columns()
    theirs = LogLogisticFitter().fit(lower, np.isfinite(upper), entry=entry)
    ours = log_logistic(counts)
    assert np.exp(ours.location) == pytest.approx(theirs.alpha_, rel=1e-4)
    assert 1 / ours.spread == pytest.approx(theirs.beta_, rel=1e-4)
    assert ours.log_likelihood >= theirs.log_likelihood_ - 1e-9


def test_b_life_is_where_survival_says() -> None:
    for curve in (lognormal(watched(200, 5)), log_logistic(watched(200, 5))):
        assert curve.survival(curve.b_life(0.1)) == pytest.approx(0.9)
        assert curve.survival(0.0) == 1
        with pytest.raises(ValueError, match="wanted between 0 and 1"):
            curve.b_life(1.0)


def test_refuses_as_the_weibull_does() -> None:
    table = pl.DataFrame({"entry": [0.0], "lower": [4.0], "upper": [np.inf], "count": [5.0]})
    with pytest.raises(EstimateError, match="few-failures posterior"):
        lognormal(Counts(table, unit="years", what="bush", rule="as watched"))
