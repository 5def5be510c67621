"""Trend tests against a printed example, and their level where vehicles differ."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.trend import laplace, military_handbook
from wornby.errors import EstimateError


def one_system(ages: list[float], end: float) -> pl.DataFrame:
    failed = [True] * len(ages) + [False]
    return pl.DataFrame({"vehicle": "a", "age": [*ages, end], "failed": failed})


def test_the_handbook_example() -> None:
    """NIST/SEMATECH e-Handbook 8.2.3.4: 37.23 with 20 degrees of freedom (from memory)."""
    ages = [5.0, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]
    found = military_handbook(one_system(ages, 1500.0))
    assert found.statistic == pytest.approx(37.23, abs=0.005)
    assert found.n_failures == 10
    assert found.direction == -1
    assert found.p_value == pytest.approx(2 * 0.011, abs=0.001)


def test_laplace_by_hand() -> None:
    """Two failures at 3/4 of the watch: (0.25 + 0.25) / sqrt(2 / 12)."""
    found = laplace(one_system([75.0, 75.0], 100.0))
    assert found.statistic == pytest.approx(0.5 / np.sqrt(1 / 6))
    assert found.direction == 1


def test_vehicles_of_different_rates_are_no_trend() -> None:
    rng, rejected = np.random.default_rng(1), np.zeros(2)
    for _ in range(400):
        rows = []
        for vehicle in range(15):
            entry, end = rng.uniform(0, 5), rng.uniform(6, 12)
            n = rng.poisson(rng.gamma(1, 3))
            rows += [(vehicle, entry, rng.uniform(entry, end), True) for _ in range(n)]
            rows.append((vehicle, entry, end, False))
        history = pl.DataFrame(rows, schema=["vehicle", "entry", "age", "failed"], orient="row")
        rejected += [laplace(history).p_value < 0.1, military_handbook(history).p_value < 0.1]
    assert (np.abs(rejected / 400 - 0.1) < 0.045).all()


def test_a_watch_that_ends_at_a_failure_is_no_trend() -> None:
    """Failures at an even rate; a customer may stay away after any visit, service or failure."""
    rng, rejected, n = np.random.default_rng(3), np.zeros(2), 300
    for _ in range(n):
        rows: list[tuple[int, float, bool]] = []
        for vehicle in range(40):
            age, ages = 0.0, []
            while age == 0 or (rng.random() > 0.15 and age < 12):
                age += rng.exponential(0.6)
                ages += [age] if rng.random() < 0.4 else []
            rows += [*((vehicle, one, True) for one in ages), (vehicle, age, False)]
        history = pl.DataFrame(rows, schema=["vehicle", "age", "failed"], orient="row")
        for k, test in enumerate((laplace, military_handbook)):
            found = test(history)
            rejected[k] += found.p_value < 0.1 and found.direction == 1
    assert (np.abs(rejected / n - 0.05) < 0.035).all()


def test_failures_that_all_end_a_watch_tell_no_trend() -> None:
    with pytest.raises(EstimateError, match="all 1 failures end a watch"):
        laplace(one_system([100.0], 100.0))


def test_wear_is_noticed() -> None:
    rng = np.random.default_rng(2)
    rows = [(v, float(10 * u**0.4), True) for v in range(30) for u in rng.random(4)]
    rows += [(v, 10.0, False) for v in range(30)]
    history = pl.DataFrame(rows, schema=["vehicle", "age", "failed"], orient="row")
    for test in (laplace, military_handbook):
        assert test(history).direction == 1
        assert test(history).p_value < 0.001


def test_no_failure_is_no_trend() -> None:
    with pytest.raises(EstimateError, match="no failure in 1 vehicles"):
        laplace(one_system([], 100.0))
