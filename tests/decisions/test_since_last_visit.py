"""Fleets whose watch ends at the last visit, though a failure since would have been seen."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.few_failures import weibull_posterior
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.since_last_visit import given_no_call
from wornby.histories.counts import Counts

SHAPE, SCALE, VEHICLES, FLEETS = 3.0, 14.0, 800, 60
TRUTH = WeibullDraws(np.array([SHAPE]), np.array([SCALE]), "years")


def failures_next_year(life: WeibullDraws, ages: np.ndarray) -> float:
    return float((1 - life.survival(ages + 1) / life.survival(ages)).sum(axis=1).mean())


def fleet(rng: np.random.Generator) -> tuple[float, float]:
    """Failures to expect by the watch alone and with the time since it, as shares of the truth's.

    Everyone comes once a year, and whenever a part has failed; nobody stays away.
    """
    entry = rng.uniform(0, 14, size=VEHICLES)
    close = entry + rng.uniform(1, 4, size=VEHICLES)
    life = SCALE * ((entry / SCALE) ** SHAPE + rng.standard_exponential(VEHICLES)) ** (1 / SHAPE)
    since = rng.uniform(0, 1, size=VEHICLES)
    failed = life <= close
    end = np.where(failed, life, np.maximum(close - since, entry + 1e-3))
    table = pl.DataFrame(
        {"entry": entry, "lower": end, "upper": np.where(failed, end, np.inf), "count": 1.0}
    )
    counts = Counts(table, "years", "part", "to the last visit")
    draws = weibull_posterior(counts, prior=CAR_COMPONENT).draws(rng, 400)
    now = close[~failed]
    known = given_no_call(draws, now, since_visit=since[~failed], coming=np.ones(now.size), rng=rng)
    true = failures_next_year(TRUTH, now)
    return failures_next_year(draws, now) / true, failures_next_year(known, now) / true


def test_time_since_the_last_visit_without_a_call_counts_as_time_without_failure() -> None:
    """By the watch alone a tenth too many are expected and more; with the time since, as come."""
    told = np.array([fleet(np.random.default_rng(seed)) for seed in range(FLEETS)])
    error = told.std(axis=0) / np.sqrt(FLEETS)
    alone, with_it = told.mean(axis=0)
    assert alone > 1.1
    assert with_it == pytest.approx(1.0, abs=3.5 * error[1] + 0.01)


def test_who_stays_away_for_good_says_nothing_by_not_coming() -> None:
    rng = np.random.default_rng(2)
    life = WeibullDraws(np.full(4000, 2.0), rng.uniform(5, 30, size=4000), "years")
    ages, year = np.full(50, 9.0), np.ones(50)
    lost = given_no_call(life, ages, since_visit=year, coming=0 * year, rng=rng)
    loyal = given_no_call(life, ages, since_visit=year, coming=year, rng=rng)
    assert lost.scale.mean() == pytest.approx(life.scale.mean(), rel=0.02)
    assert loyal.scale.mean() > 1.05 * life.scale.mean()
