"""An answer where nothing was seen says so: past the last failure, or younger than any watched."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.bootstrap import weibull_bootstrap
from wornby.curves.few_failures import weibull_posterior
from wornby.curves.given_shape import weibayes
from wornby.curves.parametric import weibull
from wornby.curves.profile import b_life
from wornby.curves.reach import outside_failures, youngest_entry
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.curves.vehicles import counts_by_vehicle
from wornby.histories.counts import Counts

YOUNG = "below the youngest entry at 5 years: extrapolated"


def late_comers(youngest: float = 5.0) -> pl.DataFrame:
    """Thermostats of vehicles of which none came before it was five; four in ten failed soon."""
    ends = [5.5, 6.0, 6.5, 7.0, 8.0, 9.0, *[9.5] * 8]
    upper = [*ends[:6], *[np.inf] * 8]
    frame = pl.DataFrame({"lower": ends, "upper": upper}).with_columns(
        entry=pl.lit(5.0), count=pl.lit(1.0)
    )
    first = pl.int_range(pl.len()) == 0
    entry = pl.when(first).then(youngest).otherwise("entry")
    return frame.with_columns(entry=entry).with_row_index("vehicle")


def counts_of(frame: pl.DataFrame) -> Counts:
    table = frame.select("entry", "lower", "upper", "count")
    return Counts(table, unit="years", what="thermostat", rule="as watched")


def test_a_b10_life_before_anybody_was_watched_is_marked() -> None:
    counts = counts_of(late_comers())
    posterior = weibull_posterior(counts, prior=CAR_COMPONENT).b_life(0.02, confidence=0.9)
    given = weibayes(counts, shape=2.0).b_life(0.02, confidence=0.9)
    by = counts_by_vehicle(late_comers(), unit="years", what="thermostat", rule="as watched")
    drawn = weibull_bootstrap(by, rng=np.random.default_rng(1), n=50).b_life(0.02, confidence=0.9)
    for life in (posterior, given, drawn):
        assert life.value is not None
        assert life.value < 5
        assert YOUNG in life.note


def test_one_vehicle_watched_from_new_reaches_so_far_down() -> None:
    counts = counts_of(late_comers(youngest=0.0))
    assert weibull_posterior(counts, prior=CAR_COMPONENT).b_life(0.02, confidence=0.9).note == ""


def test_reach_ends_at_the_ages_themselves() -> None:
    counts = counts_of(late_comers())
    assert outside_failures(counts, 5.0) == ""
    assert outside_failures(counts, 9.0) == ""
    assert outside_failures(counts, 9.01) == "beyond the last failure at 9 years: extrapolated"
    assert outside_failures(counts, 4.99) == YOUNG


def test_without_a_life_there_is_no_youngest() -> None:
    assert youngest_entry(counts_of(late_comers().clear())) == pytest.approx(np.inf)


def test_a_fitted_life_younger_than_anybody_was_watched_is_marked() -> None:
    rows = [
        (6.0, 7.0, 7.0, 4.0),
        (6.0, 8.0, 8.0, 5.0),
        (7.0, 9.0, 9.0, 6.0),
        (6.0, 9.0, np.inf, 9.0),
    ]
    table = pl.DataFrame(rows, schema=["entry", "lower", "upper", "count"], orient="row")
    curve = weibull(Counts(table, unit="years", what="thermostat", rule="as watched"))
    assert curve.b_life(0.01) < 6.0
    assert "extrapolated" in b_life(curve, 0.01, confidence=0.9).note
