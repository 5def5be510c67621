"""Many simulated sets at once are judged as each would be by itself."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.goodness_of_fit import TWO_PARAMETER, distance, simulated, watch
from wornby.curves.likelihood import Family
from wornby.curves.nonparametric import kaplan_meier
from wornby.curves.rival_curves import two_parameter
from wornby.curves.simulated_fits import SimulatedLives, fits_to_steps
from wornby.histories.counts import Counts


def counts_of(lives: SimulatedLives, row: int) -> Counts:
    """One set as counts."""
    end, failed = lives.end[row], lives.failed[row]
    columns = {"entry": lives.entry, "lower": end, "upper": np.where(failed, end, np.inf)}
    table = pl.DataFrame({**columns, "count": lives.weight})
    return Counts(table, "years", "thermostat", "as watched")


def one_by_one(family: Family, lives: SimulatedLives) -> list[float]:
    """Each set fitted and measured by itself."""
    every = (counts_of(lives, row) for row in range(len(lives.end)))
    return [
        distance(kaplan_meier(one, confidence=0.5), two_parameter(family, one)) for one in every
    ]


def late_lives(rng: np.random.Generator, n: int) -> Counts:
    """Parts first seen at some age, one of them for half a life, as where no line says which."""
    life, entry = 9 * rng.weibull(2.2, n), rng.uniform(1, 6, n)
    seen = life > entry
    entry, life = entry[seen], life[seen]
    end = np.minimum(life, entry + 8)
    upper = np.where(life > end, np.inf, end)
    table = pl.DataFrame({"entry": entry, "lower": end, "upper": upper, "count": 1.0})
    half = pl.when(pl.int_range(pl.len()) == 3).then(0.5).otherwise("count")
    return Counts(table.with_columns(count=half), "years", "thermostat", "as watched")


@pytest.mark.parametrize("family", TWO_PARAMETER.values(), ids=lambda family: family.name)
def test_all_at_once_is_each_by_itself(family: Family) -> None:
    rng = np.random.default_rng(1)
    counts = late_lives(rng, 60)
    curve = two_parameter(family, counts)
    sets = simulated(curve, watch(counts), rng, 12)
    start = np.array([curve.intercept, curve.slope])
    found = fits_to_steps(family, sets, start, curve.centre)
    assert found == pytest.approx(one_by_one(family, sets), rel=1e-6)


def test_where_all_watched_fail_early_the_steps_begin_again() -> None:
    """One part watched alone fails at 2 years; the others come later."""
    family = TWO_PARAMETER["Weibull"]
    end = np.array([[2.0, 5.0, 6.0, 7.0, 7.5, 9.0], [2.0, 4.0, 6.5, 7.0, 8.0, 8.5]])
    sets = SimulatedLives(
        entry=np.array([1.0, 3.0, 3.0, 3.0, 3.5, 3.5]),
        weight=np.ones(6),
        end=end,
        failed=np.array([[True] * 5 + [False]] * 2),
    )
    found = fits_to_steps(family, sets, np.array([0.0, 2.0]), 1.7)
    assert found == pytest.approx(one_by_one(family, sets), rel=1e-6)
    assert kaplan_meier(counts_of(sets, 0), confidence=0.5).begins_at == 2.0


def test_a_half_counted_life_is_simulated_as_half_a_life() -> None:
    counts = late_lives(np.random.default_rng(2), 40)
    seen = watch(counts)
    assert seen.weight.sum() == pytest.approx(counts.n_lives)
    assert sorted(seen.weight)[:2] == [0.5, 1.0]
