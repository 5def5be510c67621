"""Rivals of the Weibull: known fits, nesting, and the truth recovered."""

import numpy as np
import polars as pl
import pytest
from scipy import stats

from wornby.curves.parametric import weibull
from wornby.curves.rival_curves import (
    gamma_2,
    generalised_gamma_3,
    lognormal_2,
    never_fails_3,
    weibull_2,
    weibull_3,
)
from wornby.curves.rival_table import RIVALS, rivals
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

BEARINGS = [17.88, 28.92, 33.00, 41.52, 42.12, 45.60, 48.40, 51.84, 51.96, 54.12, 55.56, 67.80]
BEARINGS += [68.64, 68.64, 68.88, 84.12, 93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.40]


def counts_of(age: object, upper: object, entry: object = 0.0) -> Counts:
    columns = np.broadcast_arrays(np.array(entry, float), np.array(age, float), np.array(upper))
    frame = pl.DataFrame(dict(zip(("entry", "lower", "upper"), columns, strict=True)))
    return Counts(frame.with_columns(count=pl.lit(1.0)), "years", "ball bearing", "as watched")


def bearings() -> Counts:
    """Lieblein & Zelen (1956), as in Lawless (2003)."""
    return counts_of(BEARINGS, BEARINGS)


def test_gamma_agrees_with_scipy_on_complete_data() -> None:
    shape, _, scale = stats.gamma.fit(BEARINGS, floc=0)
    curve = gamma_2(bearings())
    assert curve.extra == pytest.approx(shape, rel=1e-4)
    value = np.sum(stats.gamma.logpdf(BEARINGS, shape, scale=scale))
    assert curve.log_likelihood == pytest.approx(value, abs=1e-6)


def test_generalised_gamma_of_the_bearings_is_the_printed_one() -> None:
    """Lawless (1980, 2003 section 5.4): k = 10.6, so Q = 10.6^-1/2 (from memory)."""
    curve = generalised_gamma_3(bearings())
    assert curve.extra is not None
    assert curve.extra**-2 == pytest.approx(10.6, abs=0.05)


def test_more_parameters_never_fit_worse() -> None:
    counts = bearings()
    least = weibull(counts).log_likelihood - 1e-7
    for fit in (generalised_gamma_3, never_fails_3, weibull_3):
        assert fit(counts).log_likelihood >= least
    assert generalised_gamma_3(counts).log_likelihood >= gamma_2(counts).log_likelihood - 1e-7


def test_a_share_that_never_fails_is_found() -> None:
    rng = np.random.default_rng(3)
    life = np.where(rng.random(3000) < 0.4, np.inf, 5 * rng.weibull(2.5, 3000))
    end = np.minimum(life, 15.0)
    curve = never_fails_3(counts_of(end, np.where(life > 15, np.inf, end)))
    assert curve.extra == pytest.approx(0.4, abs=0.03)
    assert curve.slope == pytest.approx(2.5, rel=0.05)
    assert curve.survival([100.0]) == pytest.approx([0.4], abs=0.03)
    assert curve.b_life(0.7) == np.inf


def test_a_shift_is_found_and_nothing_fails_before_it() -> None:
    rng = np.random.default_rng(4)
    life = 10 + 8 * rng.weibull(2, 2000)
    entry = np.round(rng.uniform(0, 12, 2000), 2)
    seen = life > entry
    curve = weibull_3(counts_of(life[seen], life[seen], entry[seen]))
    assert curve.shift == pytest.approx(10, abs=0.3)
    assert curve.survival([5.0, curve.shift]).tolist() == [1, 1]
    assert curve.survival([curve.b_life(0.2)]) == pytest.approx([0.8])


def test_the_table_puts_the_best_first_and_its_weights_add_up() -> None:
    table, curves = rivals(bearings())
    assert table["curve"][0] == "gamma"
    assert table["aic"].is_sorted()
    assert table["weight"].sum() == pytest.approx(1)
    assert set(curves) == set(RIVALS)
    for name, aic, parameters, value in table.select(
        "curve", "aic", "parameters", "log_likelihood"
    ).iter_rows():
        assert aic == pytest.approx(2 * parameters - 2 * value)
        assert curves[name].survival([curves[name].b_life(0.3)]) == pytest.approx([0.7], abs=1e-6)


def test_without_failures_there_are_no_rivals() -> None:
    with pytest.raises(EstimateError, match="no failure"):
        rivals(counts_of([4.0, 6.0], np.array([np.inf, np.inf])))


@pytest.mark.parametrize("mortal", [0.02, 0.003])
def test_nearly_all_may_never_fail(mortal: float) -> None:
    """One design fault in fifty vehicles, or three in a thousand: the share that can is found."""
    rng, n = np.random.default_rng(1), 20_000
    life = np.where(rng.random(n) < mortal, 5 * rng.weibull(2.5, n), np.inf)
    end = np.minimum(life, 15.0)
    counts = counts_of(end, np.where(life > 15, np.inf, end))
    curve = never_fails_3(counts)
    assert curve.extra is not None
    assert 1 - curve.extra == pytest.approx(counts.n_failures / n, rel=0.02)
    assert curve.slope == pytest.approx(2.5, rel=0.2)
    assert curve.log_likelihood > weibull_2(counts).log_likelihood + 20


def test_where_all_fail_none_is_held_back() -> None:
    rng = np.random.default_rng(2)
    life = 5 * rng.weibull(2.5, 300)
    counts = counts_of(life, life)
    curve = never_fails_3(counts)
    assert curve.extra == pytest.approx(0, abs=1e-3)
    assert curve.log_likelihood == pytest.approx(weibull_2(counts).log_likelihood, abs=1e-4)


def test_lives_much_alike_have_a_gamma_near_the_lognormal() -> None:
    """With a spread of 2 % the two can hardly be told apart, whatever the gamma's shape."""
    rng = np.random.default_rng(3)
    life = 100 + rng.normal(0, 2, 200)
    counts = counts_of(life, life)
    curve = gamma_2(counts)
    assert curve.extra == pytest.approx(1 / 0.02**2, rel=0.25)
    assert curve.log_likelihood == pytest.approx(lognormal_2(counts).log_likelihood, abs=0.5)


def test_below_a_shape_of_one_the_shift_stops_at_the_first_failure() -> None:
    """Held at a shape of 1: exponential from the first failure, its scale the mean less that."""
    rng = np.random.default_rng(4)
    life = 3 + 5 * rng.weibull(0.7, 300)
    curve = weibull_3(counts_of(life, life))
    scale = life.mean() - life.min()
    assert curve.slope == 1
    assert curve.shift == pytest.approx(life.min(), rel=1e-4)
    assert curve.log_likelihood == pytest.approx(-300 * (np.log(scale) + 1), abs=0.01)


def test_a_likelihood_that_rises_without_end_is_no_fit() -> None:
    life = [3.1, 4.7, 5.2, 5.6, 5.7]
    with pytest.raises(EstimateError, match="runs away: its likelihood still rises"):
        generalised_gamma_3(counts_of(life, life))
    table, curves = rivals(counts_of(life, life))
    reason = table.filter(pl.col("curve") == "generalised gamma")["reason"][0]
    assert "generalised gamma" not in curves
    assert "runs away" in reason
