"""Likelihood-ratio intervals, against a search of the whole likelihood surface.

Values from R and from books are in tests/published/.
"""

from collections.abc import Callable

import numpy as np
import polars as pl
import pytest
from scipy.stats import chi2

from wornby.curves.log_ages import Array
from wornby.curves.parametric import WeibullCurve, weibull
from wornby.curves.profile import (
    b_life,
    chance_within,
    scale_interval,
    shape_interval,
    share_failed,
    survival_band,
)
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import Counts


def six_watched_late() -> WeibullCurve:
    """Delayed entry, an exact failure, bounds and lives in service, all few."""
    table = pl.DataFrame(
        {
            "entry": [0.0, 2.0, 1.0, 4.0, 0.0, 3.0],
            "lower": [6.0, 5.0, 9.0, 11.0, 8.0, 12.0],
            "upper": [6.0, 7.0, 9.0, np.inf, np.inf, 14.0],
            "count": [1.0, 2.0, 1.0, 3.0, 2.0, 1.0],
        }
    )
    return weibull(Counts(table, unit="years", what="water pump", rule="as watched"))


def searched(curve: WeibullCurve, asked: Callable[[Array, Array], Array]) -> tuple[float, float]:
    """Extremes of a quantity over all pairs within the 90 % likelihood region, by brute force."""
    entry, lower, upper, count = (c[:, None, None] for c in curve.counts.columns())
    log_scale, log_shape = np.meshgrid(np.linspace(1.8, 4.5, 1500), np.linspace(-0.6, 2.6, 1500))
    scale, shape = np.exp(log_scale), np.exp(log_shape)

    def hazard(age: Array) -> Array:
        return np.asarray((age / scale) ** shape)

    until = np.where(np.isinf(upper), lower, upper)
    with np.errstate(all="ignore"):
        terms = np.where(
            lower == upper,
            np.log(shape / scale * (lower / scale) ** (shape - 1)) - hazard(lower),
            np.where(
                np.isinf(upper),
                -hazard(lower),
                np.log(np.exp(-hazard(lower)) - np.exp(-hazard(until))),
            ),
        )
    surface = (count * (terms + hazard(entry))).sum(0)
    inside = surface > surface.max() - chi2.ppf(0.9, 1) / 2
    values = asked(scale, shape)[inside]
    return float(values.min()), float(values.max())


def failed_within(scale: Array, shape: Array) -> Array:
    return np.asarray(1 - np.exp((7 / scale) ** shape - (9 / scale) ** shape))


ASKED: dict[str, tuple[Callable[[WeibullCurve], Estimate], Callable[[Array, Array], Array]]] = {
    "shape": (lambda c: shape_interval(c, confidence=0.9), lambda _, shape: shape),
    "scale": (lambda c: scale_interval(c, confidence=0.9), lambda scale, _: scale),
    "B10 life": (
        lambda c: b_life(c, 0.1, confidence=0.9),
        lambda scale, shape: scale * (-np.log(0.9)) ** (1 / shape),
    ),
    "share failed by 5": (
        lambda c: share_failed(c, 5.0, confidence=0.9),
        lambda scale, shape: 1 - np.exp(-((5 / scale) ** shape)),
    ),
    "chance at 7 within 2": (
        lambda c: chance_within(c, age=7.0, horizon=2.0, confidence=0.9),
        failed_within,
    ),
}


@pytest.mark.parametrize("name", ASKED)
def test_limits_are_the_extremes_of_the_likelihood_region(name: str) -> None:
    curve = six_watched_late()
    ours, asked = ASKED[name]
    found = ours(curve)
    assert found.lower is not None
    assert found.upper is not None
    lower, upper = searched(curve, asked)
    assert found.lower == pytest.approx(lower, rel=0.01)
    assert found.upper == pytest.approx(upper, rel=0.01)


def test_wald_and_profile_agree_where_there_are_many_failures() -> None:
    rng = np.random.default_rng(4)
    life = 10 * rng.weibull(2, 20_000)
    table = pl.DataFrame({"entry": 0.0 * life, "lower": life, "upper": life, "count": 1.0})
    curve = weibull(Counts(table, unit="years", what="seal", rule="as watched"))
    by_profile = chance_within(curve, age=4.0, horizon=1.0, confidence=0.95)
    by_wald = chance_within(curve, age=4.0, horizon=1.0, confidence=0.95, method="wald")
    assert by_profile.lower == pytest.approx(by_wald.lower, rel=1e-3)
    assert by_profile.upper == pytest.approx(by_wald.upper, rel=1e-3)


def test_a_band_holds_the_same_limits_as_one_age_at_a_time() -> None:
    curve = six_watched_late()
    band = survival_band(curve, [3.0, 8.0, 20.0], confidence=0.9)
    for age, survival, lower, upper in band.iter_rows():
        failed = share_failed(curve, age, confidence=0.9)
        assert failed.value == pytest.approx(1 - survival)
        assert failed.lower == pytest.approx(1 - upper, abs=1e-8)
        assert failed.upper == pytest.approx(1 - lower, abs=1e-8)


def test_answers_past_the_data_are_marked() -> None:
    curve = six_watched_late()
    assert b_life(curve, 0.05, confidence=0.9).note == ""
    far = b_life(curve, 0.99, confidence=0.9)
    assert far.note == "beyond the last failure at 14 years: extrapolated"
    later = chance_within(curve, age=13.0, horizon=2.0, confidence=0.9)
    assert later.note == "beyond the longest watch at 14 years: extrapolated"


@pytest.mark.parametrize("confidence", [0.0, 1.0, 95.0, float("nan")])
def test_refuses_a_confidence_that_is_none(confidence: float) -> None:
    with pytest.raises(ValueError, match="wanted between 0 and 1"):
        b_life(six_watched_late(), 0.1, confidence=confidence)


def test_refuses_an_age_before_the_first_day() -> None:
    with pytest.raises(ValueError, match="wanted age 0 or more"):
        chance_within(six_watched_late(), age=-1.0, horizon=1.0, confidence=0.9)


def few_late_entries() -> WeibullCurve:
    """Four failures among ten, all watched late: shapes down to nought are not contradicted."""
    table = pl.DataFrame(
        {
            "entry": [3.3, 2.2, 3.3, 2.6, 2.8, 3.7, 0.7, 3.4, 1.8, 1.6],
            "lower": [7.3, 6.2, 5.5, 6.6, 6.8, 7.7, 2.6, 7.4, 3.1, 5.4],
            "upper": [np.inf, np.inf, 5.5, *[np.inf] * 3, 2.6, np.inf, 3.1, 5.4],
            "count": 1.0,
        }
    )
    return weibull(Counts(table, unit="years", what="heater valve", rule="as watched"))


def test_limits_are_found_where_no_shape_is_too_small() -> None:
    """Searched over the hazard gathered in the year and the shape, which hold each other."""
    curve = few_late_entries()
    entry, lower, upper, _ = (c[:, None, None] for c in curve.counts.columns())
    log_hazard, log_shape = np.meshgrid(np.linspace(-9, 2, 2201), np.linspace(-9, 2, 401))
    shape = np.exp(log_shape)
    rate = np.exp(log_hazard) / (7**shape - 6**shape)
    failed = np.where(lower == upper, np.log(rate * shape) + (shape - 1) * np.log(lower), 0.0)
    surface = (failed - rate * (lower**shape - entry**shape)).sum(0)
    inside = surface > surface.max() - chi2.ppf(0.9, 1) / 2
    assert inside[0].any()
    found = chance_within(curve, age=6.0, horizon=1.0, confidence=0.9)
    assert found.lower == pytest.approx(1 - np.exp(-np.exp(log_hazard[inside].min())), rel=0.01)
    assert found.upper == pytest.approx(1 - np.exp(-np.exp(log_hazard[inside].max())), rel=0.01)


INF = np.inf
TWO_TOPS = {
    "a failure seen late beside two from new": [(1.75, 2.0, 2.0, 1.0), (0.0, 0.25, 0.25, 2.0)],
    "bounded failures that a shape of nought explains as well": [
        (1.5, 1.75, 2.0, 0.5),
        (1.75, 3.0, 4.25, 1.0),
        (1.25, 1.625, 2.0, 0.5),
    ],
    "one bounded failure among late entries": [
        (1768.617, 3273.456, INF, 1.0),
        (0.0, 1392.923, INF, 1.0),
        (641.620, 2006.541, INF, 1.0),
        (1072.468, 1712.360, INF, 1.0),
        (898.106, 2398.262, INF, 1.0),
        (957.430, 2100.0, 2400.0, 1.0),
    ],
}


@pytest.mark.parametrize("name", TWO_TOPS)
@pytest.mark.parametrize("share", [0.1, 0.632, 0.9])
def test_limits_are_found_where_the_likelihood_has_two_tops(name: str, share: float) -> None:
    """Searched over the log life and the shape, which hold each other."""
    schema = ["entry", "lower", "upper", "count"]
    rows = pl.DataFrame(TWO_TOPS[name], schema=schema, orient="row")
    curve = weibull(Counts(rows, unit="years", what="hose", rule="as watched"))
    found = b_life(curve, share, confidence=0.9)
    entry, lower, upper, count = (c[:, None, None] for c in curve.counts.columns())
    log_life = np.log(found.value or 0.0) + np.linspace(-9, 7, 1601)
    log_shape = np.linspace(np.log(1e-4), 6, 601)
    life, shape = np.meshgrid(log_life, np.exp(log_shape))
    rate = -np.log1p(-share)

    def hazard(age: Array) -> Array:
        with np.errstate(all="ignore"):
            return np.asarray(rate * np.exp(shape * (np.log(age) - life)))

    ended = np.where(np.isinf(upper), lower, upper)
    with np.errstate(all="ignore"):
        density = np.log(hazard(lower) * shape / lower) - hazard(lower) + hazard(entry)
        bounded = np.log(-np.expm1(hazard(lower) - hazard(ended))) - hazard(lower) + hazard(entry)
        terms = np.where(
            lower == upper,
            density,
            np.where(np.isinf(upper), hazard(entry) - hazard(lower), bounded),
        )
        surface = (count * terms).sum(0)
    overflown = (hazard(ended) > 1e200).any(0)
    lives = life[~overflown & (surface > curve.log_likelihood - chi2.ppf(0.9, 1) / 2)]
    assert found.lower is not None
    assert found.upper is not None
    lowest, highest = (
        float(np.clip(np.log(x), life.min(), life.max()))
        for x in (max(found.lower, 1e-300), found.upper)
    )
    assert lowest == pytest.approx(lives.min(), abs=0.03)
    assert highest == pytest.approx(lives.max(), abs=0.03)


def test_failures_that_fall_off_as_one_over_age_are_refused_by_name() -> None:
    table = pl.DataFrame(
        {
            "entry": [0.5, 1.0, 1.5, 2.0, 1.0, 2.0],
            "lower": [0.6, 1.1, 1.6, 2.1, 7.0, 8.0],
            "upper": [0.6, 1.1, 1.6, 2.1, np.inf, np.inf],
            "count": 1.0,
        }
    )
    with pytest.raises(EstimateError, match="4 failures among late entries"):
        weibull(Counts(table, unit="years", what="heater valve", rule="as watched"))
