"""Curves of no given form, as likely as the data leave them: a hazard in steps, by Gibbs' sampler.

Where no Weibull fits, a decision still needs a curve that can be integrated and a doubt about
it. The failures are cut into cells of about equal numbers, the hazard is constant in each, and
given the failure ages its posterior is a gamma for each cell (Gelman et al. 2013, chapter 2;
piecewise exponential lives as in Lawless 2003, chapter 4). Failure ages known within bounds are
drawn from the curve between them, in turn (Tanner & Wong 1987).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wornby.curves.log_ages import Array
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

FAILURES_PER_CELL = 10
FEWEST_CELLS, MOST_CELLS = 3, 24
PRIOR_FAILURES = 1.0
"""What the prior is worth, spread over the cells: it has no exposure of its own."""
BURN_IN = 100


@dataclass(frozen=True, eq=False, slots=True)
class HazardDraws:
    """One curve for each row: hazards constant from each start to the next, the last for ever.

    `start` and `hazard` have axes draw, cell; the first start is age 0. Beyond the last failures
    the hazard stays what it was: such a curve never advises an age that no failure has reached.
    """

    start: Array
    hazard: Array
    unit: str

    def survival(self, age: ArrayLike) -> Array:
        """Chance of still running at each age: one row a draw, one column an age."""
        return np.exp(-_gathered(self.start, self.hazard, np.atleast_1d(np.asarray(age, float))))

    def on_scale(self, units_per_new_unit: float, unit: str) -> "HazardDraws":
        """The same curves on another scale: miles become years at so many miles a year."""
        return HazardDraws(self.start / units_per_new_unit, self.hazard * units_per_new_unit, unit)

    def thinned(self, n: int) -> "HazardDraws":
        """At most `n` of the draws, evenly chosen."""
        at = np.linspace(0, len(self.start) - 1, min(n, len(self.start))).astype(np.intp)
        return HazardDraws(self.start[at], self.hazard[at], self.unit)


def smoothed_draws(counts: Counts, *, n: int, rng: np.random.Generator) -> HazardDraws:
    """Draws of a curve in hazard steps; each has cells of its own, so no age is favoured.

    Delayed entry, right censoring and failures within bounds are used as they are. EstimateError:
    fewer failures than three cells need. ValueError: no draws asked for.

    >>> import polars as pl
    >>> ages = list(np.linspace(1.0, 9.0, 60))
    >>> lives = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 1.0})
    >>> draws = smoothed_draws(
    ...     Counts(lives, "years", "seal", "as watched"), n=500, rng=np.random.default_rng(1)
    ... )
    >>> round(float(draws.survival(5.0).mean()), 2)
    0.5
    """
    if n < 1:
        raise ValueError(f"{counts.what}: {n} draws, wanted 1 or more")
    if counts.n_failures < FEWEST_CELLS:
        raise EstimateError(
            f"{counts.what}: {counts.n_failures:g} failures, wanted {FEWEST_CELLS} for a curve "
            "in steps"
        )
    entry, lower, upper, weight = counts.columns()
    ended = np.isfinite(upper)
    age = np.where(ended, (lower + np.where(ended, upper, lower)) / 2, lower)
    within = ended & (upper > lower)
    sweeps = n + (BURN_IN if within.any() else 0)
    n_cells = int(np.clip(counts.n_failures // FAILURES_PER_CELL, FEWEST_CELLS, MOST_CELLS))
    start, hazard = np.zeros((2, sweeps, n_cells))
    for sweep in range(sweeps):
        shares = (np.arange(n_cells - 1) + rng.random()) / n_cells
        start[sweep, 1:] = np.quantile(age[ended], shares)
        failed, exposure = _seen(start[sweep], age, entry=entry, ended=ended, weight=weight)
        hazard[sweep] = rng.gamma(failed + PRIOR_FAILURES / n_cells) / exposure
        if within.any():
            age[within] = _between(start[sweep], hazard[sweep], lower[within], upper[within], rng)
    return HazardDraws(start[-n:], hazard[-n:], counts.unit)


def _seen(
    start: Array, age: Array, *, entry: Array, ended: Array, weight: Array
) -> tuple[Array, Array]:
    """Failures in each cell, and the time at risk there."""
    cell = np.searchsorted(start, age[ended], side="left") - 1
    failed = np.bincount(np.maximum(cell, 0), weight[ended], start.size).astype(np.float64)
    end = np.append(start[1:], np.inf)
    spent = np.minimum(age[:, None], end) - np.maximum(entry[:, None], start)
    exposure = weight @ np.maximum(spent, 0.0)
    return failed, np.asarray(np.maximum(exposure, 1e-12))


def _gathered(start: Array, hazard: Array, age: Array) -> Array:
    """Cumulative hazard of each draw at each age."""
    total = np.zeros((len(start), age.size))
    width = np.append(np.diff(start, axis=1), np.full((len(start), 1), np.inf), axis=1)
    for cell in range(start.shape[1]):
        total += hazard[:, cell, None] * np.clip(
            age[None, :] - start[:, cell, None], 0.0, width[:, cell, None]
        )
    return total


def _between(
    start: Array, hazard: Array, lower: Array, upper: Array, rng: np.random.Generator
) -> Array:
    """Failure ages drawn from the curve between their bounds."""
    ages = np.append(start, max(float(upper.max()), float(start[-1])) + 1.0)
    heights = _gathered(start[None], hazard[None], ages)[0]
    low, high = np.interp(lower, ages, heights), np.interp(upper, ages, heights)
    spent = low - np.log1p(rng.random(lower.size) * np.expm1(low - high))
    return np.asarray(np.clip(np.interp(spent, heights, ages), lower, upper))
