import numpy as np
import polars as pl
import pytest

from wornby.curves.intervals import turnbull
from wornby.curves.nonparametric import kaplan_meier
from wornby.curves.stepped_hazards import HazardDraws, smoothed_draws
from wornby.errors import EstimateError
from wornby.histories.counts import Counts


def counted(entry: np.ndarray, lower: np.ndarray, upper: np.ndarray) -> Counts:
    table = pl.DataFrame({"entry": entry, "lower": lower, "upper": upper, "count": 1.0})
    return Counts(table, "years", "hose", "as watched")


def two_kinds(n: int, rng: np.random.Generator) -> np.ndarray:
    """A third of the parts are bad and last two years, the others eleven: no Weibull."""
    bad = rng.random(n) < 1 / 3
    return np.where(bad, 2 * rng.weibull(3, n), 11 * rng.weibull(5, n))


def truth(age: np.ndarray) -> np.ndarray:
    """Survival of `two_kinds`."""
    return np.asarray(np.exp(-((age / 2) ** 3)) / 3 + np.exp(-((age / 11) ** 5)) * 2 / 3)


def late_and_lost(n: int, rng: np.random.Generator) -> Counts:
    """Watched from an age on, some for a few years only."""
    life, entry = two_kinds(n, rng), rng.uniform(0, 6, n)
    stop = entry + rng.uniform(1, 12, n)
    seen = life > entry
    failed = life <= stop
    lower = np.minimum(life, stop)
    return counted(entry[seen], lower[seen], np.where(failed, lower, np.inf)[seen])


def test_draws_lie_around_kaplan_meier_under_delayed_entry() -> None:
    rng = np.random.default_rng(1)
    counts = late_and_lost(3000, rng)
    ages = np.array([2.0, 4.0, 8.0, 10.0, 12.0])
    drawn = smoothed_draws(counts, n=400, rng=rng).survival(ages)
    steps = kaplan_meier(counts, confidence=0.95).survival(ages)
    assert drawn.mean(axis=0) == pytest.approx(steps, abs=0.03)
    assert drawn.mean(axis=0) == pytest.approx(truth(ages), abs=0.04)


def test_failures_known_within_bounds_agree_with_turnbull() -> None:
    rng = np.random.default_rng(2)
    life = two_kinds(600, rng)
    step = rng.uniform(0.5, 2, 600)
    lower = np.floor(life / step) * step
    counts = counted(np.zeros(600), lower, lower + step)
    ages = np.array([2.0, 5.0, 9.0, 11.0])
    drawn = smoothed_draws(counts, n=300, rng=rng).survival(ages).mean(axis=0)
    curve = turnbull(counts)
    assert (drawn > curve.survival_early(ages) - 0.05).all()
    assert (drawn < curve.survival(ages) + 0.05).all()


def test_nine_intervals_in_ten_hold_the_truth() -> None:
    """Nominal 90 %; 120 worlds, so 84 to 96 % is within the luck of the simulation."""
    ages, held = np.array([3.0, 9.0, 11.0]), []
    for seed in range(120):
        rng = np.random.default_rng([3, seed])
        drawn = smoothed_draws(late_and_lost(300, rng), n=200, rng=rng).survival(ages)
        low, high = np.quantile(drawn, [0.05, 0.95], axis=0)
        held.append((low <= truth(ages)) & (truth(ages) <= high))
    assert np.mean(held) > 0.82


def test_miles_become_years_at_a_pace() -> None:
    miles = HazardDraws(np.array([[0.0, 50_000.0]]), np.array([[1e-6, 4e-5]]), "miles")
    years = miles.on_scale(10_000.0, "years")
    assert years.survival([3.0, 9.0]) == pytest.approx(miles.survival([30_000.0, 90_000.0]))


def test_too_few_failures_are_refused() -> None:
    rows = np.array([2.0, 5.0])
    with pytest.raises(EstimateError, match="hose: 2 failures, wanted 3"):
        smoothed_draws(counted(0 * rows, rows, rows), n=10, rng=np.random.default_rng(1))
    with pytest.raises(ValueError, match="0 draws"):
        smoothed_draws(counted(0 * rows, rows, rows), n=0, rng=np.random.default_rng(1))
