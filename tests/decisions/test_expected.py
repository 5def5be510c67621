import math

import numpy as np
import pytest
from scipy import stats

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.expected import expected_failures


def draws(n: int = 2000, *, spread: float = 0.15) -> WeibullDraws:
    rng = np.random.default_rng(2)
    return WeibullDraws(
        shape=2.5 * np.exp(spread * rng.standard_normal(n)),
        scale=12 * np.exp(spread / 2 * rng.standard_normal(n)),
        unit="years",
    )


def test_like_parts_under_a_certain_curve_are_binomial() -> None:
    expected = expected_failures(draws(1, spread=0), [6.0] * 40, horizon_years=2, return_chance=0.5)
    chance = 0.5 * (1 - math.exp((6 / 12) ** 2.5 - (8 / 12) ** 2.5))
    assert expected.chances == pytest.approx(
        stats.binom.pmf(range(len(expected.chances)), 40, chance)
    )
    assert expected.mean == pytest.approx(40 * chance)


def test_unlike_parts_agree_with_enumeration() -> None:
    # by hand: three chances p, q, r; none fails (1-p)(1-q)(1-r), all fail p q r
    ages, returns = np.array([2.0, 8.0, 14.0]), np.array([1.0, 0.9, 0.4])
    expected = expected_failures(draws(1, spread=0), ages, horizon_years=3, return_chance=returns)
    p = returns * (1 - np.exp((ages / 12) ** 2.5 - ((ages + 3) / 12) ** 2.5))
    assert expected.chances[0] == pytest.approx(np.prod(1 - p))
    assert expected.chances[3] == pytest.approx(np.prod(p))
    assert expected.chances.sum() == pytest.approx(1)


def test_the_mixture_agrees_with_a_simulation_of_curve_and_luck() -> None:
    curves, rng = draws(500), np.random.default_rng(4)
    ages = rng.uniform(0, 15, size=200)
    expected = expected_failures(curves, ages, horizon_years=1, return_chance=0.7)
    chance = 0.7 * (1 - curves.survival(ages + 1) / curves.survival(ages))
    counts = np.concatenate([(rng.random(chance.shape) < chance).sum(axis=1) for _ in range(40)])
    assert expected.mean == pytest.approx(counts.mean(), abs=4 * counts.std() / math.sqrt(500))
    assert expected.lower == pytest.approx(np.quantile(counts, 0.05), abs=1)
    assert expected.upper == pytest.approx(np.quantile(counts, 0.95), abs=1)


def test_doubt_about_the_curve_widens_the_interval() -> None:
    ages = np.full(300, 9.0)
    known = expected_failures(draws(spread=0), ages, horizon_years=1, return_chance=1)
    doubtful = expected_failures(draws(spread=0.3), ages, horizon_years=1, return_chance=1)
    assert doubtful.upper - doubtful.lower > 1.5 * (known.upper - known.lower)


def test_drawn_counts_have_the_chances_of_the_table() -> None:
    expected = expected_failures(draws(), [9.0] * 60, horizon_years=1, return_chance=1)
    counts = expected.draws(50_000, np.random.default_rng(1))
    shares = np.bincount(counts, minlength=expected.table.height)[: expected.table.height] / 50_000
    assert shares == pytest.approx(expected.table["chance"].to_numpy(), abs=0.01)
    assert expected.table["chance_at_most"][-1] >= 1 - 1e-4


@pytest.mark.parametrize(
    ("ages", "horizon", "returns", "said"),
    [
        ([], 1.0, 1.0, "wanted one or more"),
        ([-1.0], 1.0, 1.0, "from 0 up"),
        ([1.0], 0.0, 1.0, "horizon_years is 0.0, wanted above 0"),
        ([1.0], 1.0, 1.2, "wanted 0 to 1"),
        ([1.0], 1.0, math.nan, "wanted 0 to 1"),
    ],
)
def test_what_cannot_be_is_named(
    ages: list[float], horizon: float, returns: float, said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        expected_failures(draws(), ages, horizon_years=horizon, return_chance=returns)
