"""Whether a curve fits: data from a Weibull pass at the stated rate, a mixture does not."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.goodness_of_fit import fit_check, p_value, plot_places
from wornby.curves.likelihood import WEIBULL
from wornby.errors import EstimateError
from wornby.histories.counts import Counts


def watched(life: np.ndarray, rng: np.random.Generator) -> Counts:
    """Each life watched from an age of its own for some years."""
    entry = np.where(rng.random(life.size) < 0.5, 0.0, rng.uniform(0, 5, life.size))
    seen = life > entry
    entry, life = entry[seen], life[seen]
    end = np.minimum(life, entry + rng.uniform(3, 12, life.size))
    upper = np.where(life > end, np.inf, end)
    table = pl.DataFrame({"entry": entry, "lower": end, "upper": upper, "count": 1.0})
    return Counts(table, unit="years", what="thermostat", rule="as watched")


def test_weibull_data_are_rejected_at_the_stated_rate() -> None:
    rng = np.random.default_rng(1)
    found = [
        p_value(WEIBULL, watched(9 * rng.weibull(2.2, 80), rng), rng=rng, n=19)[1]
        for _ in range(80)
    ]
    assert 0.03 <= np.mean(np.array(found) <= 0.1) <= 0.2


def test_a_mixture_of_early_and_late_failures_fits_no_curve() -> None:
    rng = np.random.default_rng(2)
    early = rng.random(300) < 0.25
    life = np.where(early, rng.exponential(1, 300), 12 * rng.weibull(6, 300))
    check = fit_check(watched(life, rng), level=0.05, rng=rng, n=39)
    assert not check.table["fits"].any()
    assert check.sentence == (
        "thermostat: no two-parameter curve fits; all are rejected at the 5% level."
    )


def test_places_of_weibull_failures_lie_on_a_line() -> None:
    """On Weibull paper the slope is the shape and the line meets nought at the scale."""
    rng = np.random.default_rng(3)
    places = plot_places(watched(9 * rng.weibull(2.2, 4000), rng), WEIBULL)
    middle = places.filter(pl.col("share").is_between(0.05, 0.95))
    slope, start = np.polyfit(middle["log_age"], middle["place"], 1)
    assert slope == pytest.approx(2.2, rel=0.05)
    assert np.exp(-start / slope) == pytest.approx(9, rel=0.02)


def test_bounded_failures_have_places_but_no_simulation() -> None:
    table = pl.DataFrame(
        {"entry": 0.0, "lower": [0.0, 2.0, 4.0], "upper": [2.0, 4.0, np.inf], "count": 5.0}
    )
    counts = Counts(table, unit="years", what="thermostat", rule="as watched")
    assert plot_places(counts, WEIBULL)["share"].to_list() == pytest.approx([1 / 6, 1 / 2])
    with pytest.raises(EstimateError, match="wanted exact ages"):
        fit_check(counts, level=0.05, rng=np.random.default_rng(1), n=9)


def test_places_lie_on_the_line_though_nobody_watched_from_new() -> None:
    """All are first seen at 6 years, when a third has failed unseen."""
    rng = np.random.default_rng(5)
    life = 9 * rng.weibull(2.2, 6000)
    table = pl.DataFrame({"lower": life[life > 6], "entry": 6.0, "count": 1.0})
    table = table.with_columns(upper="lower").select("entry", "lower", "upper", "count")
    places = plot_places(Counts(table, "years", "thermostat", "as watched"), WEIBULL)
    assert places["share"][0] == pytest.approx(1 - np.exp(-((6 / 9) ** 2.2)), abs=0.03)
    middle = places.filter(pl.col("share") < 0.95)
    slope, start = np.polyfit(middle["log_age"], middle["place"], 1)
    assert slope == pytest.approx(2.2, rel=0.08)
    assert np.exp(-start / slope) == pytest.approx(9, rel=0.03)


def rejected(lives: list[np.ndarray], rng: np.random.Generator) -> float:
    """How often the Weibull is rejected at 5 %, over sets of lives."""
    found = [p_value(WEIBULL, watched(life, rng), rng=rng, n=99)[1] for life in lives]
    return float(np.mean(np.array(found) <= 0.05))


def test_fifteen_failures_give_a_bad_batch_away_but_a_hundred_not_the_lognormal() -> None:
    """Computed by us alone: what the notes of an answer say of the test's power."""
    rng = np.random.default_rng(12)
    bad = [rng.random(45) < 0.25 for _ in range(40)]
    mixed = [np.where(b, rng.exponential(1, 45), 12 * rng.weibull(6, 45)) for b in bad]
    assert rejected(mixed, rng) > 0.8
    assert 0.05 < rejected([np.exp(rng.normal(2.1, 0.5, 200)) for _ in range(40)], rng) < 0.5
