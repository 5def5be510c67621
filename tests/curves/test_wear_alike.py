"""How alike left and right wear, against the closed forms of gamma frailty and drawn vehicles."""

import math

import numpy as np
import polars as pl
import pytest
from scipy.stats import kendalltau

from wornby.curves.wear_alike import SharedLives, _gathered, _log_likelihood, shared_lives
from wornby.decisions.shared_wear import over_all
from wornby.errors import EstimateError

SHAPE, SCALE = 3.0, 14.0


def drawn(variance: float, *, n: int, seed: int) -> np.ndarray:
    """Lives of two places on n vehicles: gamma wear, each place's own curve over all vehicles."""
    rng = np.random.default_rng(seed)
    wear = rng.gamma(1 / variance, variance, n) if variance else np.ones(n)
    spent = rng.standard_exponential((2, n))
    own = over_all(spent, wear, np.full(n, variance))
    return np.asarray(SCALE * own ** (1 / SHAPE))


def watched(lives: np.ndarray, *, seed: int = 2) -> pl.DataFrame:
    """Both places watched from the day the vehicle first came to that of its last visit."""
    rng = np.random.default_rng(seed)
    n = int(lives.shape[1])
    entry = rng.uniform(0, 10, size=(n,))
    end = entry + rng.uniform(2, 10, size=(n,))
    seen = np.all(lives > entry, axis=0)
    return pl.concat([one_place(lives[place][seen], entry[seen], end[seen]) for place in (0, 1)])


def one_place(life: np.ndarray, entry: np.ndarray, end: np.ndarray) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "vehicle": np.arange(life.size),
            "entry": entry,
            "exit": np.minimum(life, end),
            "failed": life <= end,
        }
    )


def told(lives: pl.DataFrame) -> SharedLives:
    rng = np.random.default_rng(3)
    return shared_lives(lives, shape=SHAPE, scale=SCALE, n=4000, rng=rng, what="pipe")


@pytest.mark.parametrize("variance", [0.3, 1.0, 3.0])
def test_kendalls_tau_of_lives_is_variance_over_variance_and_two(variance: float) -> None:
    # Hougaard (2000), chapter 7, from memory; Kendall's tau by scipy
    left, right = drawn(variance, n=20_000, seed=1)
    assert kendalltau(left, right).statistic == pytest.approx(variance / (variance + 2), abs=0.01)


@pytest.mark.parametrize("ages", [(4.0, 5.0), (12.0, 3.0), (17.0, 18.0)])
def test_two_failures_weigh_as_the_density_of_claytons_copula(ages: tuple[float, float]) -> None:
    # Clayton (1978), from memory: c(u, v) = (1 + t) (u v)^(-1 - t) (u^-t + v^-t - 1)^(-2 - 1/t)
    def log_density(theta: float) -> float:
        u, v = (math.exp(-((age / SCALE) ** SHAPE)) for age in ages)
        inside = u**-theta + v**-theta - 1
        return (
            math.log1p(theta) - (1 + theta) * math.log(u * v) - (2 + 1 / theta) * math.log(inside)
        )

    both = pl.DataFrame({"vehicle": ["a"] * 2, "entry": [0.0] * 2, "exit": ages, "failed": True})
    one = both.group_by("vehicle").agg(k=pl.len(), entry="entry", exit="exit", failed="failed")
    seen = _gathered(one, SHAPE, SCALE)
    ours = _log_likelihood(seen, 2.0) - _log_likelihood(seen, 0.5)
    assert ours == pytest.approx(log_density(2.0) - log_density(0.5), rel=1e-9)


def test_two_that_were_old_when_first_seen_and_last_weigh_as_the_joint_survival() -> None:
    # Clayton (1978), from memory: S(s, t) = (S(s)^-v + S(t)^-v - 1)^(-1/v), given survival to entry
    def log_joint(age: float, v: float) -> float:
        return -math.log(2 * math.exp(v * (age / SCALE) ** SHAPE) - 1) / v

    lasting = pl.DataFrame(
        {"k": [2], "entry": [[8.0] * 2], "exit": [[15.0] * 2], "failed": [[0, 0]]}
    )
    seen = _gathered(lasting, SHAPE, SCALE)
    for v in (0.2, 1.0, 5.0):
        expected = log_joint(15.0, v) - log_joint(8.0, v)
        assert _log_likelihood(seen, v) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("variance", "seed"), [(0.5, 1), (1.5, 2), (4.0, 3)])
def test_drawn_vehicles_give_back_how_alike_their_places_wear(variance: float, seed: int) -> None:
    found = told(watched(drawn(variance, n=600, seed=seed))).estimate(confidence=0.98)
    assert found.lower is not None
    assert found.upper is not None
    assert found.lower < variance / (variance + 2) < found.upper
    assert found.upper - found.lower < 0.4


def test_places_that_live_apart_are_told_from_those_that_wear_alike() -> None:
    apart = told(watched(drawn(0.0, n=600, seed=4))).estimate(confidence=0.9)
    assert apart.upper is not None
    assert apart.upper < 0.2


def test_too_few_vehicles_tell_nothing() -> None:
    few = watched(drawn(1.0, n=5, seed=5))
    with pytest.raises(EstimateError, match="whether they wear alike is not known"):
        told(few)
