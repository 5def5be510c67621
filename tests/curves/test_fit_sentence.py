"""How often "no two-parameter curve fits" is said: of mixtures nearly always, of Weibulls seldom.

The sentence needs all three curves rejected at the level, so that on data from any one of them it
is said at most at that rate. Rates computed by us alone.
"""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.curves.goodness_of_fit import fit_check
from wornby.histories.counts import Counts

LEVEL, SETS = 0.1, 40


def watched(life: NDArray[np.float64], rng: np.random.Generator) -> Counts:
    """Each life watched from an age of its own for some years."""
    entry = np.where(rng.random(life.size) < 0.5, 0.0, rng.uniform(0, 5, life.size))
    seen = life > entry
    entry, life = entry[seen], life[seen]
    end = np.minimum(life, entry + rng.uniform(3, 12, life.size))
    upper = np.where(life > end, np.inf, end)
    table = pl.DataFrame({"entry": entry, "lower": end, "upper": upper, "count": 1.0})
    return Counts(table, unit="years", what="thermostat", rule="as watched")


def said(lives: list[NDArray[np.float64]], rng: np.random.Generator) -> int:
    """Of how many data sets it is said that no two-parameter curve fits."""
    checks = [fit_check(watched(life, rng), level=LEVEL, rng=rng, n=39) for life in lives]
    return sum("no two-parameter curve fits" in check.sentence for check in checks)


def test_weibull_data_trip_it_no_oftener_than_the_level() -> None:
    """At a rate of 10 % or less, more than nine of forty has a chance below 1 % (binomial)."""
    rng = np.random.default_rng(1)
    assert said([9 * rng.weibull(2.2, 80) for _ in range(SETS)], rng) <= 9


def test_lives_of_a_bad_batch_among_good_ones_trip_it() -> None:
    """A quarter fail young, of three hundred: at least nine sets in ten say so."""
    rng = np.random.default_rng(2)
    early = [rng.random(300) < 0.25 for _ in range(SETS)]
    lives = [np.where(e, rng.exponential(1, 300), 12 * rng.weibull(6, 300)) for e in early]
    assert said(lives, rng) >= 36
