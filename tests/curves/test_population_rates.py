"""Failures for each thousand car-years: exact limits, groups that add up, a trend at one age."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.population_rates import failure_rates, poisson_limits, rate, rate_trend
from wornby.errors import EstimateError

CELLS = pl.DataFrame(
    {
        "model_year": [2003, 2003, 2003, 2005, 2005, 2005],
        "calendar_year": [2013, 2014, 2015, 2013, 2014, 2015],
        "failures": [4, 6, 9, 2, 5, 3],
        "car_years": [100.0, 95.0, 90.0, 120.0, 118.0, 115.0],
    }
)


def test_limits_are_garwoods() -> None:
    """Computed by R 4 (poisson.test): 10 seen, 95 %; 3 seen, 90 %."""
    assert [float(x[0]) for x in poisson_limits([10], confidence=0.95)] == pytest.approx(
        [4.7953887, 18.3903560]
    )
    assert [float(x[0]) for x in poisson_limits([3], confidence=0.90)] == pytest.approx(
        [0.81769145, 7.75365653]
    )


def test_no_failure_gives_a_bound_not_a_blank() -> None:
    """By hand: exp(-x) = 0.05 at x = 2.9957, so 2.9957 in 500 car-years at most."""
    told = rate(0, 500.0, confidence=0.90)
    assert (told.value, told.lower) == (0.0, 0.0)
    assert told.upper == pytest.approx(-np.log(0.05) * 2)


def test_no_car_years_give_no_rate() -> None:
    assert rate(0, 0.0, confidence=0.90).value is None


def test_rates_add_failures_and_car_years_of_a_group() -> None:
    by_year = failure_rates(CELLS, by="calendar year", confidence=0.90)
    assert by_year["value"].to_list() == pytest.approx([6000 / 220, 11_000 / 213, 12_000 / 205])
    by_age = failure_rates(CELLS, by="age", confidence=0.90)
    assert by_age["group"].to_list() == [6, 9, 12]
    assert by_age["failures"].to_list() == [2, 4 + 6 + 5 + 3, 9]
    assert by_age["car_years"].sum() == CELLS["car_years"].sum()


def test_a_cell_without_cars_adds_neither_failure_nor_car_year() -> None:
    empty = CELLS.with_columns(car_years=pl.lit(0.0))
    assert failure_rates(pl.concat([CELLS, empty]), by="age", confidence=0.90).equals(
        failure_rates(CELLS, by="age", confidence=0.90)
    )


def test_rates_are_told_by_known_groups_only() -> None:
    with pytest.raises(ValueError, match="wanted by calendar year, age, model year"):
        failure_rates(CELLS, by="colour", confidence=0.90)


def test_a_trend_at_one_age_is_that_of_a_poisson_regression() -> None:
    """Computed by R 4: glm(n ~ log(age + 0.5) + year + offset(log(e)), poisson)."""
    made = rate_trend(CELLS, confidence=0.90)
    assert made.dispersion == 1.0
    assert made.ageing.value == pytest.approx(4.50356460045, rel=1e-8)
    assert made.yearly.value == pytest.approx(np.exp(-0.06145703616), rel=1e-8)
    assert made.yearly.upper == pytest.approx(
        np.exp(-0.06145703616 + 1.644853627 * 0.2965788815), rel=1e-7
    )


def test_counts_more_scattered_than_chance_widen_the_trend() -> None:
    """Computed by R 4: the same by quasipoisson, dispersion 7.3620609."""
    wild = CELLS.with_columns(failures=pl.Series([1, 12, 3, 9, 1, 14]))
    made = rate_trend(wild, confidence=0.90)
    assert made.dispersion == pytest.approx(7.3620609, rel=1e-7)
    assert made.yearly.lower == pytest.approx(
        np.exp(0.3952697274 - 1.644853627 * 0.6979801528), rel=1e-7
    )


def test_a_trend_needs_failures_and_years_to_differ() -> None:
    with pytest.raises(EstimateError, match="no failure"):
        rate_trend(CELLS.with_columns(failures=pl.lit(0)), confidence=0.90)
    with pytest.raises(EstimateError, match="one calendar year"):
        rate_trend(CELLS.filter(pl.col("calendar_year") == 2014), confidence=0.90)


def test_a_trend_is_found_where_one_was_drawn() -> None:
    """Failures 8 % more each year at one age, wear with a Weibull shape of 3: age squared."""
    rng = np.random.default_rng(6)
    grid = pl.DataFrame({"model_year": range(2003, 2013)}).join(
        pl.DataFrame({"calendar_year": range(2013, 2023)}), how="cross"
    )
    age = (grid["calendar_year"] - grid["model_year"] + 0.5).to_numpy()
    level = 2e-4 * age**2 * 1.08 ** (grid["calendar_year"].to_numpy() - 2013)
    cells = grid.with_columns(
        failures=pl.Series(rng.poisson(4_000 * level)), car_years=pl.lit(4_000.0)
    )
    made = rate_trend(cells, confidence=0.90)
    assert made.yearly.value == pytest.approx(1.08, abs=0.01)
    assert made.ageing.value == pytest.approx(2.0, abs=0.06)
