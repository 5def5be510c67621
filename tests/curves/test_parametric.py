"""Weibull by maximum likelihood, against closed forms and lifelines.

Published values are in tests/published/.
"""

from collections.abc import Sequence

import numpy as np
import polars as pl
import pytest
from lifelines import WeibullFitter

from wornby.curves.parametric import weibull
from wornby.errors import EstimateError
from wornby.histories.counts import Counts


def counts_of(rows: Sequence[tuple[float, ...]]) -> Counts:
    table = pl.DataFrame(rows, schema=["entry", "lower", "upper", "count"], orient="row")
    return Counts(table.cast(pl.Float64), unit="years", what="thermostat", rule="as watched")


def watched(n: int, seed: int) -> Counts:
    """Lives of shape 2.5 and scale 12 years, each watched for 8 years from a random age."""
    rng = np.random.default_rng(seed)
    entry, life = rng.uniform(0, 10, n), 12 * rng.weibull(2.5, n)
    seen = life > entry
    entry, life = entry[seen], life[seen]
    end = np.minimum(life, entry + 8)
    rows = zip(entry, end, np.where(life > end, np.inf, end), np.ones(end.size), strict=True)
    return counts_of(list(rows))


@pytest.mark.parametrize("seed", range(5))
def test_agrees_with_lifelines_on_delayed_entry(seed: int) -> None:
    counts = watched(300, seed)
    entry, lower, upper, _ = counts.columns()
    theirs = WeibullFitter().fit(lower, np.isfinite(upper), entry=entry)
    curve = weibull(counts)
    assert curve.scale == pytest.approx(theirs.lambda_, rel=1e-4)
    assert curve.shape == pytest.approx(theirs.rho_, rel=1e-4)
    assert curve.log_likelihood >= theirs.log_likelihood_ - 1e-9


def test_a_count_of_three_equals_three_rows() -> None:
    rows = [(0, 3, 3, 3), (0, 5, 5, 1), (1, 4, 9, 3), (2, 8, np.inf, 3)]
    repeated = [(e, lo, up, 1) for e, lo, up, n in rows for _ in range(int(n))]
    once, thrice = weibull(counts_of(rows)), weibull(counts_of(repeated))
    assert once.shape == pytest.approx(thrice.shape, rel=1e-9)
    assert once.scale == pytest.approx(thrice.scale, rel=1e-9)


def test_a_change_of_unit_changes_only_the_scale() -> None:
    counts = watched(200, 3)
    ages = pl.col("entry", "lower", "upper")
    days = Counts(counts.table.with_columns(ages * 365.25), "days", counts.what, counts.rule)
    in_years, in_days = weibull(counts), weibull(days)
    assert in_days.shape == pytest.approx(in_years.shape, rel=1e-8)
    assert in_days.scale == pytest.approx(in_years.scale * 365.25, rel=1e-8)


def test_narrow_bounds_become_an_exact_failure() -> None:
    exact = [(0.0, t, t, 1.0) for t in (2.0, 3.0, 5.0, 7.0, 11.0)] + [(0, 12, np.inf, 4)]
    bounded = [(e, lo * (1 - 1e-6), up, n) for e, lo, up, n in exact[:5]] + exact[5:]
    assert weibull(counts_of(bounded)).shape == pytest.approx(
        weibull(counts_of(exact)).shape, rel=1e-5
    )


def test_the_information_is_the_curvature_of_the_likelihood() -> None:
    curve = weibull(watched(400, 8))
    entry, lower, upper, _ = curve.counts.columns()
    failed = np.isfinite(upper)

    def value(log_scale: float, log_shape: float) -> float:
        scale, shape = np.exp(log_scale), np.exp(log_shape)
        hazard = shape / scale * (lower / scale) ** (shape - 1)
        watch = (lower / scale) ** shape - (entry / scale) ** shape
        return float(np.log(hazard[failed]).sum() - watch.sum())

    a, b, h = np.log(curve.scale), np.log(curve.shape), 1e-4
    assert value(a, b) == pytest.approx(curve.log_likelihood, rel=1e-12)
    cross = value(a + h, b + h) - value(a + h, b - h) - value(a - h, b + h) + value(a - h, b - h)
    aa = value(a + h, b) - 2 * value(a, b) + value(a - h, b)
    bb = value(a, b + h) - 2 * value(a, b) + value(a, b - h)
    information = -np.array([[aa, cross / 4], [cross / 4, bb]]) / h**2
    assert curve.covariance == pytest.approx(np.linalg.inv(information), rel=1e-3)


def test_the_curve_answers_in_closed_form() -> None:
    curve = weibull(watched(300, 1))
    assert curve.survival(curve.scale) == pytest.approx(np.exp(-1))
    assert curve.survival(curve.b_life(0.1)) == pytest.approx(0.9)
    assert curve.mean_remaining(0) == pytest.approx(curve.mean)
    later = curve.survival([5.0, 6.0])
    assert curve.chance_within(age=5, horizon=1) == pytest.approx(1 - later[1] / later[0])
    assert curve.hazard(5.0) == pytest.approx(-(np.log(later[1]) - np.log(later[0])), rel=0.3)


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ([], "no lives"),
        ([(0, 5, np.inf, 7)], "no failure among 7 lives"),
        ([(0, 5, 5, 3), (0, 9, np.inf, 2)], "all 3 failures at one age, 5 years"),
        ([(0, 4, 5, 3), (0, 4, np.inf, 2)], "few-failures posterior"),
        ([(0, 0, 5, 3)], "few-failures posterior"),
        ([(0, 4, 5, 1)], "few-failures posterior"),
    ],
)
def test_refuses_what_cannot_tell_shape_and_scale(
    rows: list[tuple[float, ...]], message: str
) -> None:
    with pytest.raises(EstimateError, match=message):
        weibull(counts_of(rows))
