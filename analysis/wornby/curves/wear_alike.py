"""Do the places of one component on a vehicle wear out together? Gamma frailty (Clayton 1978).

The hazard of all places of a vehicle is multiplied by the vehicle's own wear, gamma with mean 1
and a variance; over all vehicles each place keeps its curve. How alike two lives are is told by
Kendall's tau, variance / (variance + 2) (Hougaard 2000, chapter 7): of two vehicles, the one whose
left lasts longer has the right that lasts longer with the chance (1 + tau) / 2. The curve is
taken as fitted and the variance estimated given it, in two stages (Shih & Louis 1995).
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import gammaln

from wornby.curves.log_ages import Array
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError

MOST_TAU = 0.95
N_TAUS = 190
ENOUGH_PAIRS = 5
"""Of so many vehicles with two places watched must one or more have failed."""
PRIOR_BASIS = "before the records, any Kendall's tau from 0 to 0.95 alike (our choice)"


@dataclass(frozen=True, eq=False, slots=True)
class SharedLives:
    """How alike the lives of a component's places on one vehicle are: draws of Kendall's tau.

    `n_vehicles` had two places or more watched, in `n_failed` of them one or more failed;
    `n_all` counts those in which all did.
    """

    tau: Array
    n_vehicles: int
    n_failed: int
    n_all: int
    what: str

    @property
    def variance(self) -> Array:
        """Variance of wear over all vehicles, draw by draw."""
        return np.asarray(2 * self.tau / (1 - self.tau))

    def estimate(self, *, confidence: float) -> Estimate:
        """Kendall's tau: the median of the draws with equal tails."""
        tail = (1 - confidence) / 2
        low, value, high = np.quantile(self.tau, [tail, 0.5, 1 - tail])
        return Estimate(float(value), float(low), float(high), confidence, "", PRIOR_BASIS)


def shared_lives(
    lives: pl.DataFrame, *, shape: float, scale: float, n: int, rng: np.random.Generator, what: str
) -> SharedLives:
    """Draw Kendall's tau of lives on one vehicle, given the curve that each of them has.

    `lives` has a row for each place: vehicle, entry, exit, failed, in the unit of `scale`. A
    vehicle with one place watched says nothing and is left out. EstimateError: too few
    vehicles on which one of two places has failed.

    >>> lives = pl.DataFrame(
    ...     {
    ...         "vehicle": [v for v in "abcdef" for _ in (0, 1)],
    ...         "entry": [0.0] * 12,
    ...         "exit": [3.0, 3.1, 6.0, 6.3, 8.0, 8.2, 9.0, 9.1, 11.0, 11.5, 14.0, 15.0],
    ...         "failed": [True] * 12,
    ...     }
    ... )
    >>> found = shared_lives(
    ...     lives, shape=2.5, scale=12.0, n=2000, rng=np.random.default_rng(1), what="pipe"
    ... )
    >>> found.n_vehicles, round(found.estimate(confidence=0.9).value, 1)
    (6, 0.9)
    """
    by_vehicle = lives.group_by("vehicle", maintain_order=True).agg(
        k=pl.len(), failures=pl.col("failed").sum(), entry="entry", exit="exit", failed="failed"
    )
    told = by_vehicle.filter(pl.col("k") > 1)
    n_failed = told.filter(pl.col("failures") > 0).height
    if n_failed < ENOUGH_PAIRS:
        raise EstimateError(
            f"{what}: {n_failed} vehicles on which one of several places has failed, wanted "
            f"{ENOUGH_PAIRS}: whether they wear alike is not known"
        )
    edges = np.linspace(0.0, MOST_TAU, N_TAUS + 1)
    taus = (edges[1:] + edges[:-1]) / 2
    seen = _gathered(told, shape, scale)
    height = np.array([_log_likelihood(seen, 2 * tau / (1 - tau)) for tau in taus])
    weight = np.exp(height - height.max())
    cells = rng.choice(N_TAUS, size=n, p=weight / weight.sum())
    return SharedLives(
        tau=np.asarray(edges[cells] + rng.random(n) * (edges[1] - edges[0])),
        n_vehicles=told.height,
        n_failed=n_failed,
        n_all=told.filter(pl.col("failures") == pl.col("k")).height,
        what=what,
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Gathered:
    """The hazard of each place's own curve by entry and exit, and whose vehicle's it is."""

    by_entry: Array
    by_exit: Array
    failed: Array
    row: NDArray[np.intp]
    k: NDArray[np.int64]


def _gathered(told: pl.DataFrame, shape: float, scale: float) -> _Gathered:
    entry, exit_, failed = (
        told.select(name).explode(name)[name].cast(pl.Float64).to_numpy()
        for name in ("entry", "exit", "failed")
    )
    k = told["k"].cast(pl.Int64).to_numpy()
    row = np.repeat(np.arange(told.height), k)
    return _Gathered((entry / scale) ** shape, (exit_ / scale) ** shape, failed, row, k)


def _log_likelihood(seen: _Gathered, v: float) -> float:
    """Of all vehicles given each place's curve, without what does not depend on the variance v.

    With H a place's own hazard and d failures on a vehicle, wear integrated out: the sum of v H
    over the failed, + log gamma(1/v + d) - log gamma(1/v) + d log v - (1/v + d) log(1 + v spent
    by exit) + (1/v) log(1 + v spent by entry), where 1 + v spent = 1 + sum of (exp(v H) - 1).
    """
    d = np.bincount(seen.row, weights=seen.failed, minlength=seen.k.size)
    total = v * float(seen.failed @ seen.by_exit)
    total += float((gammaln(1 / v + d) - gammaln(1 / v) + d * np.log(v)).sum())
    total -= float((1 / v + d) @ _log_one_and_spent(v * seen.by_exit, seen.row, seen.k))
    return total + float(_log_one_and_spent(v * seen.by_entry, seen.row, seen.k).sum()) / v


def _log_one_and_spent(gathered: Array, row: NDArray[np.intp], k: NDArray[np.int64]) -> Array:
    """The logarithm of 1 + sum of (exp(x) - 1) over a vehicle's places, without overflow."""
    most = np.zeros(k.size)
    np.maximum.at(most, row, gathered)
    scaled = np.bincount(row, weights=np.exp(gathered - most[row]), minlength=k.size)
    return np.asarray(most + np.log(scaled - (k - 1) * np.exp(-most)))
