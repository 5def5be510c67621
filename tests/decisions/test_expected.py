import math

import numpy as np
import pytest
from scipy import stats

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.expected import expected_failures, failing
from wornby.decisions.failures_by_month import monthly_means


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


def test_what_is_renewed_first_no_longer_fails() -> None:
    """Steady hazards of 0.2 and 0.3 a year: in two years 0.4 of 1 - exp(-1) fail (textbook)."""
    steady = WeibullDraws(np.array([1.0]), np.array([5.0]), "years")
    fails = failing(steady, np.array([3.0]), np.array([2.0]), renewed_first=0.6, guessed=False)
    told = next(fails)
    assert told.item() == pytest.approx(0.4 * (1 - math.exp(-1)))


def test_the_first_of_two_endings_is_a_failure_as_often_as_in_simulated_lives() -> None:
    """Failures by a Weibull of shape 2.5, renewals by one of shape 4, over the year after 9."""
    rng, n = np.random.default_rng(5), 400_000
    fails, renewed = (
        scale * ((9 / scale) ** shape + rng.standard_exponential(n)) ** (1 / shape)
        for shape, scale in ((2.5, 12.0), (4.0, 10.0))
    )
    share = float(np.mean((fails < 10) & (fails < renewed)))
    fails_first = failing(
        draws(1, spread=0),
        np.array([9.0]),
        np.array([1.0]),
        renewed_first=1 - 0.9**4,
        guessed=False,
    )
    told = next(fails_first)
    assert told.item() == pytest.approx(share, rel=0.01)


def test_a_guessed_age_leaves_the_curve_as_far_open_as_that_one_part_does() -> None:
    """By hand: of two curves one part in two fails the year after 5 by the first, none later."""
    two = WeibullDraws(np.array([1.0, 1.0]), np.array([4.0, 40.0]), "years")
    age, year = np.array([5.0]), np.array([1.0])
    told = next(failing(two, age, year, renewed_first=0.0, guessed=True)).mean()
    alive, then = two.survival(5.0).mean(), two.survival(6.0).mean()
    assert told == pytest.approx((alive - then) / alive)


def test_parts_of_unknown_age_fail_as_in_a_fleet_of_survivors() -> None:
    """Parts fitted at any time in ten years under curves of one grade: who works is looked at.

    That all of them work says nothing of the curve, since the others were not looked at.
    """
    rng, curves = np.random.default_rng(7), draws(300, spread=0.3)
    ages = rng.uniform(0, 10, size=60)
    alive = rng.random((300, 60)) < curves.survival(ages)
    fails = alive & (rng.random((300, 60)) > curves.survival(ages + 1) / curves.survival(ages))
    told = expected_failures(curves, ages, horizon_years=1, return_chance=1, guessed=True)
    expected = (fails.sum(axis=0) / alive.sum(axis=0)).sum()
    assert told.mean == pytest.approx(expected, rel=0.06)


def test_months_add_up_to_the_year_whatever_ends_a_part_first() -> None:
    ages, spared = np.array([3.0, 7.0, 11.0]), np.array([0.1, 0.0, 0.4])
    guessed = np.array([False, True, True])
    months = monthly_means(
        draws(200),
        ages,
        months=12,
        years_ahead=1.0,
        return_chance=0.8,
        renewed_first=spared,
        guessed=guessed,
    )
    year = expected_failures(
        draws(200), ages, horizon_years=1, return_chance=0.8, renewed_first=spared, guessed=guessed
    )
    assert months.min() >= 0
    assert months.sum(axis=1).mean() == pytest.approx(year.mean)


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
