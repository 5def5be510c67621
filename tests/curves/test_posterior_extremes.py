"""The posterior under hard records: ties by the million, giants, bounds, watches of a moment.

Checked against a brute-force grid over both parameters, with each life's likelihood written out.
"""

import numpy as np
import polars as pl
import pytest
from numpy.typing import NDArray

from wornby.curves.few_failures import WeibullPosterior, weibull_posterior
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

Floats = NDArray[np.float64]
Row = tuple[float, float, float, float]
CONFIDENCE = 0.9
SHARES = (0.05, 0.5, 0.95)


def counts_of(rows: list[Row]) -> Counts:
    table = pl.DataFrame(rows, schema=["entry", "lower", "upper", "count"], orient="row")
    return Counts(table.cast(pl.Float64), unit="years", what="mount", rule="as watched")


def random_rows(rng: np.random.Generator, sizes: list[float], *, longest: float) -> list[Row]:
    """Up to eight rows of any kind, with ties, late entries and watches of a moment."""
    common = rng.uniform(0.05, 1.0, 3)
    rows: list[Row] = []
    for _ in range(int(rng.integers(1, 9))):
        entry = float(rng.choice([0.0, 0.0, rng.choice(common), rng.uniform()]))
        later = [a for a in (*common, rng.uniform(0.05, 1.5)) if a > entry]
        lower = float(rng.choice([entry + 1e-4, *later]))
        kind = rng.choice(["exact", "in service", "bounded"])
        if kind == "bounded":
            lower = float(rng.choice([entry, lower]))
        past = {"exact": 0.0, "in service": np.inf, "bounded": float(rng.choice([1e-4, 0.3]))}
        ages = [longest * age for age in (entry, lower, lower + past[str(kind)])]
        rows.append((ages[0], ages[1], ages[2], float(rng.choice(sizes))))
    return rows


def answers(posterior: WeibullPosterior, longest: float) -> list[Estimate]:
    return [
        posterior.shape(confidence=CONFIDENCE),
        posterior.b_life(0.1, confidence=CONFIDENCE),
        posterior.chance_within(age=longest / 4, horizon=longest / 10, confidence=CONFIDENCE),
    ]


def surface(rows: list[Row], k: Floats, expected: Floats) -> tuple[Floats, Floats]:
    """Log posterior and rate, every life's likelihood written out; columns expect so many."""
    entry, lower, upper, count = (
        np.array(column)[:, None, None] for column in zip(*rows, strict=True)
    )
    alive = lower**k - entry**k
    rate = expected / (count * alive).sum(0)
    with np.errstate(divide="ignore", invalid="ignore"):
        exact = np.log(k) + np.log(rate) + (k - 1) * np.log(lower)
        fell = np.log(-np.expm1(-rate * (np.where(np.isinf(upper), lower, upper) ** k - lower**k)))
    ended = np.where(lower == upper, exact, np.where(np.isinf(upper), 0.0, fell))
    prior = CAR_COMPONENT.log_density(np.log(k)) + CAR_COMPONENT.scale_power * np.log(expected)
    return (count * (ended - rate * alive)).sum(0) + prior, rate


def brute_force(rows: list[Row]) -> list[list[float]]:
    """The same quantiles from 400 x 400 nodes wherever 300 x 300 found anything."""
    ends = np.array([[-4.5, 5.5], [-13.8, 8.0]])
    for n in (300, 400):
        nodes = np.linspace(ends[:, 0], ends[:, 1], n)
        k, expected = np.exp(nodes[:, :1]), np.exp(nodes[:, 1])
        value, rate = surface(rows, k, expected)
        ends = np.array(
            [
                nodes[[max(places.min() - 1, 0), min(places.max() + 1, n - 1)], axis]
                for axis, places in enumerate(np.nonzero(value > value.max() - 16))
            ]
        )
    weight = np.exp(value - value.max())
    lives = np.exp(np.log(-np.log(0.9) / rate) / k)
    chances = -np.expm1(-rate * (0.35**k - 0.25**k))
    return [
        quantiles(k, weight.sum(1)),
        quantiles(lives, weight),
        quantiles(chances, weight),
    ]


def quantiles(values: Floats, weight: Floats) -> list[float]:
    order = np.argsort(values, axis=None)
    share = np.cumsum(weight.ravel()[order]) - weight.ravel()[order] / 2
    return np.interp(SHARES, share / weight.sum(), values.ravel()[order]).tolist()


@pytest.mark.parametrize("seed", range(10))
def test_quantiles_are_those_of_a_brute_force_grid(seed: int) -> None:
    rng = np.random.default_rng(seed)
    longest = float(rng.choice([20.0, 1e4, 1e5]))
    rows = [
        (0.0, 0.5 * longest, 0.5 * longest, 1.0),
        (0.2 * longest, longest, np.inf, 9.0),
        *random_rows(rng, [1.0, 2.0, 0.5, 7.0], longest=longest),
    ]
    posterior = weibull_posterior(counts_of(rows), prior=CAR_COMPONENT)
    scaled = [(a / longest, b / longest, c / longest, n) for a, b, c, n in rows]
    shape, life, chance = brute_force(scaled)
    brute = [shape, [longest * age for age in life], chance]
    for estimate, expected in zip(answers(posterior, longest), brute, strict=True):
        found = np.log([float(x or 0.0) for x in (estimate.lower, estimate.value, estimate.upper)])
        width = np.log(expected[2] / expected[0])
        assert found == pytest.approx(np.log(expected), abs=max(0.01, 0.003 * width))


def sound(rows: list[Row], longest: float) -> WeibullPosterior:
    """Limits around each value, finite draws and no NaN; pytest turns warnings into errors."""
    posterior = weibull_posterior(counts_of(rows), prior=CAR_COMPONENT)
    for estimate in answers(posterior, longest):
        told = [x for x in (estimate.lower, estimate.value, estimate.upper) if x is not None]
        assert told == sorted(told)
        assert np.isfinite(told[0])
    draws = posterior.draws(np.random.default_rng(1), 50)
    assert np.isfinite(draws.survival([longest / 4, longest])).all()
    return posterior


def test_counts_of_a_million_beside_a_hundredth_are_answered_or_refused_plainly() -> None:
    """Ties by the million draw the shape up without end, failures straight after entry down."""
    rng, refused = np.random.default_rng(7), []
    for _ in range(120):
        longest = float(rng.choice([20.0, 1e4, 1e5]))
        rows = random_rows(rng, [1e6, 0.01, 1.0, 1.0, 37.0], longest=longest)
        try:
            sound(rows, longest)
        except EstimateError as error:
            refused.append(str(error))
    plain = ("too close together", "too soon after entry", "seen alive for any time")
    assert all(any(why in error for why in plain) for error in refused)
    assert 1 <= len(refused) <= 20


def test_a_million_lives_outweigh_the_prior_as_far_as_it_takes() -> None:
    """All end within 0.001 years: (upper / lower)^shape parts no failure in 1e6 from none left.

    The cumulative hazard must rise from 1e-6 or less to log 1e6 or more, or nearly so.
    """
    posterior = sound([(0, 9.064, 9.065, 1e6), (0, 1, np.inf, 1.0)], 9.0)
    shape = posterior.grid.log_shape[posterior.weight.sum(1) > 1e-6]
    steepest = np.log(np.log(1e6) / 1e-6) / np.log(9.065 / 9.064)
    assert np.exp(shape.min()) == pytest.approx(steepest, rel=0.3)
    life = posterior.b_life(0.5, confidence=CONFIDENCE)
    assert life.value == pytest.approx(9.0645, abs=5e-4)


def test_entries_and_exits_that_cancel_leave_no_residue() -> None:
    """A million and a hundredth enter at 17, none is seen alive after it: nought is not 1e-11."""
    rows = [(17.0, 17.0, 18.0, 1e6), (17.0, 17.0, 18.0, 0.01), (0.6, 1.6, np.inf, 37.0)]
    with_more = [*rows, (0.0, 20.0, 20.0, 1.0)]
    assert sound(with_more, 20.0).edge_mass < 1e-6


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ([(0, 15.6, 15.6, 37)], "too close together"),
        ([(3.12, 3.13, 3.13, 1e6), (16.8, 17.8, np.inf, 1e6)], "too soon after entry"),
        ([(17.0, 17.0, 18.0, 1e6), (17.0, 17.0, 18.0, 0.01)], "no life was seen alive"),
    ],
)
def test_a_shape_without_end_is_refused_plainly(rows: list[Row], why: str) -> None:
    with pytest.raises(EstimateError, match=why):
        weibull_posterior(counts_of(rows), prior=CAR_COMPONENT)


@pytest.mark.parametrize(
    "rows",
    [
        [(0, 9_000, 9_000, 2), (400, 12_000, np.inf, 30), (0, 300, 8_000, 1)],
        [(0, 61_000, 61_000, 2), (20_000, 140_000, np.inf, 30)],
        [(0, 6, 6, 2), (0, 7, np.inf, 20), (0, 1e6, 1e6, 1)],
        [(0, 3, 9, 4), (2, 4, 5, 3), (0, 0, 2, 1)],
        [(5, 5.0027, 5.0027, 2), (7, 7.0027, np.inf, 40), (3, 9, np.inf, 1)],
        [(0, 1e-4, 1e-4, 1), (0, 1e5, np.inf, 1)],
    ],
    ids=["days", "miles", "one giant", "all bounded", "watched for a day", "nine decades"],
)
def test_extreme_records_are_answered(rows: list[Row]) -> None:
    sound(rows, max(row[1] for row in rows))
