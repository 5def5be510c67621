"""How many failures to expect from the vehicles in the book before the horizon."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray
from scipy.special import logsumexp

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.long_run import check_draws

MOST_DRAWS = 500


@dataclass(frozen=True, eq=False, slots=True)
class ExpectedFailures:
    """Failures expected to come in, with the interval that a count to come falls in.

    `chances[n]` is the chance of exactly n; `table` has failures, chance and
    chance_at_most. The interval holds at least the stated `confidence`, with what the
    data leave open of the curve and the luck of each vehicle both in it.
    """

    mean: float
    lower: int
    upper: int
    confidence: float
    n_parts: int
    chances: NDArray[np.float64]

    @property
    def table(self) -> pl.DataFrame:
        """One row a count, up to where the chance of more is below 1 in 10,000."""
        at_most = np.cumsum(self.chances)
        shown = int(np.searchsorted(at_most, 1 - 1e-4)) + 1
        return pl.DataFrame(
            {
                "failures": np.arange(len(self.chances)),
                "chance": self.chances,
                "chance_at_most": np.minimum(at_most, 1.0),
            }
        ).head(shown)

    def draws(self, n: int, rng: np.random.Generator) -> NDArray[np.int64]:
        """Counts drawn at random, for a year to be simulated with."""
        counts = np.arange(len(self.chances))
        return rng.choice(counts, size=n, p=self.chances / self.chances.sum())


def expected_failures(
    draws: WeibullDraws,
    ages_years: ArrayLike,
    *,
    horizon_years: ArrayLike,
    return_chance: ArrayLike,
    renewed_first: ArrayLike = 0.0,
    guessed: ArrayLike = False,
    confidence: float = 0.90,
) -> ExpectedFailures:
    """The number of failures that come in before the horizon, with its prediction interval.

    One age for each part in service now; one horizon for all, or one for each: on a curve of
    miles, the miles so far and the miles to come. `return_chance` is the chance that the
    vehicle comes back here when the part fails, one for all or one for each; `renewed_first` and
    `guessed` are as in `failing`. Under one draw
    the count is Poisson-binomial, computed exactly; over the draws it is their mixture (Meeker
    & Escobar 1998, ch. 12, give the problem). A part counts once: a second failure within the
    horizon is not looked for.

    >>> certain = WeibullDraws(np.array([1.0]), np.array([10.0]), "years")
    >>> expected = expected_failures(certain, [3.0] * 50, horizon_years=1, return_chance=1.0)
    >>> round(expected.mean, 3), expected.lower, expected.upper
    (4.758, 2, 8)
    """
    check_draws(draws, "expected failures")
    ages = np.atleast_1d(np.asarray(ages_years, dtype=np.float64))
    returns = np.broadcast_to(np.asarray(return_chance, dtype=np.float64), ages.shape)
    horizons = np.broadcast_to(np.asarray(horizon_years, dtype=np.float64), ages.shape)
    _check(ages, returns, horizons)
    pick = np.linspace(0, draws.shape.size - 1, min(draws.shape.size, MOST_DRAWS)).astype(np.intp)
    few = WeibullDraws(draws.shape[pick], draws.scale[pick], draws.unit)
    fails = next(failing(few, ages, horizons, renewed_first=renewed_first, guessed=guessed))
    chances = _poisson_binomial(fails * returns).mean(axis=1)
    return counted(chances, n_parts=ages.size, confidence=confidence)


def failing(
    draws: WeibullDraws,
    ages: NDArray[np.float64],
    ahead: NDArray[np.float64],
    *,
    renewed_first: ArrayLike,
    guessed: ArrayLike,
    shares: Sequence[float] = (1.0,),
) -> Iterator[NDArray[np.float64]]:
    """The chance that each part fails within the stretch ahead of it: a row a draw.

    One table for each of `shares` of the stretch. `renewed_first` is the hazard, gathered over it,
    of being renewed while it still works; of two endings with hazards in a steady proportion the
    first is a failure with the share of its hazard (Prentice et al. 1978 for hazards by cause).
    Where an age is `guessed` the part alone tells that it works: a draw counts for it as far as
    it lets a part live so long. Parts of unknown age are looked at because they still work, so
    that all of them together say nothing of the curve.

    >>> certain = WeibullDraws(np.array([1.0]), np.array([10.0]), "years")
    >>> year = np.array([1.0])
    >>> next(failing(certain, year, year, renewed_first=0.1, guessed=False)).round(4)
    array([[0.0906]])
    """
    spared = np.asarray(renewed_first, dtype=np.float64)
    at = np.flatnonzero(np.broadcast_to(np.asarray(guessed, dtype=np.bool_), ages.shape))
    before = _gathered(draws, ages)
    allowed = np.exp(np.log(len(before)) - before[:, at] - logsumexp(-before[:, at], axis=0))
    for share in shares:
        more = _gathered(draws, ages + share * ahead) - before
        both = more + share * spared
        fails = -np.expm1(-both)
        if spared.any():
            fails *= more / np.maximum(both, np.finfo(np.float64).tiny)
        fails[:, at] = np.minimum(fails[:, at] * allowed, 1.0)
        yield fails


def _gathered(draws: WeibullDraws, ages: NDArray[np.float64]) -> NDArray[np.float64]:
    """The hazard that a part has gathered by each age, a row a draw."""
    log_age = np.log(np.maximum(ages, np.finfo(np.float64).tiny))
    return np.asarray(np.exp(draws.shape[:, None] * (log_age - np.log(draws.scale)[:, None])))


def counted(chances: NDArray[np.float64], *, n_parts: int, confidence: float) -> ExpectedFailures:
    """A count with these chances, its mean and the interval that it falls in."""
    at_most = np.cumsum(chances)
    lower, upper = np.searchsorted(at_most, [(1 - confidence) / 2, (1 + confidence) / 2])
    return ExpectedFailures(
        mean=float(chances @ np.arange(len(chances))),
        lower=int(lower),
        upper=int(upper),
        confidence=confidence,
        n_parts=n_parts,
        chances=chances,
    )


def combined(parts: Sequence[ExpectedFailures]) -> ExpectedFailures:
    """The failures of several kinds of part together, each kind on a curve of its own.

    The kinds are independent: their curves come from different lives.
    """
    if not parts:
        raise ValueError("expected failures: nothing to combine, wanted one kind or more")
    chances, confidence = np.ones(1), parts[0].confidence
    for part in parts:
        chances = np.convolve(chances, part.chances)
    n_parts = sum(part.n_parts for part in parts)
    return counted(chances, n_parts=n_parts, confidence=confidence)


def _poisson_binomial(chance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Chance of each count, one column a draw, from one chance for each draw and vehicle.

    Vehicles are added one by one. Counts so far above the largest mean that their chance is
    below the rounding error are cut off.
    """
    n_draws, n_vehicles = chance.shape
    most = float(chance.sum(axis=1).max())
    last = min(n_vehicles, int(most + 10 * np.sqrt(most) + 20))
    counts = np.zeros((last + 1, n_draws))
    counts[0] = 1.0
    for j, failing in enumerate(chance.T):
        top = min(j + 1, last) + 1
        counts[1:top] += (counts[: top - 1] - counts[1:top]) * failing
        counts[0] *= 1 - failing
    return counts


def _check(
    ages: NDArray[np.float64], returns: NDArray[np.float64], horizons: NDArray[np.float64]
) -> None:
    if not ages.size or not np.isfinite(ages).all() or ages.min() < 0:
        raise ValueError(f"expected failures: ages {ages}, wanted one or more, from 0 up")
    if not np.isfinite(horizons).all() or horizons.min() <= 0:
        raise ValueError(f"expected failures: horizon_years is {horizons.min()}, wanted above 0")
    if not (returns.min() >= 0 and returns.max() <= 1):
        raise ValueError(
            f"expected failures: return_chance from {returns.min()} to {returns.max()}, "
            "wanted 0 to 1"
        )
