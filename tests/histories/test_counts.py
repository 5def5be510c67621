"""The step from episodes to counts loses nothing that matters."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.parametric import weibull
from wornby.errors import EstimateError
from wornby.histories.counts import DISTANCE_STEP_MI, Counts, count_episodes
from wornby.tables import EPISODES


def made(entry: list[float], exit_: list[float], failed: list[bool], *, unit: str) -> pl.DataFrame:
    """Episodes with ages in days or distances in miles."""
    none = [0.0] * len(entry), [1.0] * len(entry)
    days, miles = ((entry, exit_), none) if unit == "days" else (none, (entry, exit_))
    frame = pl.DataFrame(
        {
            "entry_days": days[0],
            "exit_days": days[1],
            "entry_mi": miles[0],
            "exit_mi": miles[1],
            "failed": failed,
            "weight": [1.0] * len(entry),
        }
    )
    rest = {name: pl.lit(None, dtype) for name, dtype in EPISODES.schema().items()}
    return EPISODES.shape(
        frame.with_columns(**{k: v for k, v in rest.items() if k not in frame.columns})
    )


def test_equal_episodes_become_one_row() -> None:
    episodes = made([0, 0, 100], [500, 500, 500], [True, True, False], unit="days")
    counts = count_episodes(episodes, unit="years", what="pump", rule="")
    assert counts.table["count"].sort().to_list() == [1, 2]
    assert (counts.n_lives, counts.n_failures) == (3, 2)


def test_an_age_is_exact_to_the_day() -> None:
    episodes = made([365], [1461], [True], unit="days")
    counts = count_episodes(episodes, unit="years", what="pump", rule="")
    assert counts.table.row(0) == pytest.approx((365 / 365.25, 4.0, 4.0, 1.0))


def test_the_distance_step_does_not_move_the_curve() -> None:
    """A simulated check: Weibull scale and shape move by less than one part in a thousand."""
    rng = np.random.default_rng(4)
    life = 90_000 * rng.weibull(2.4, size=4000)
    entry = rng.uniform(0, 60_000, size=4000)
    end = rng.uniform(60_000, 120_000, size=4000)
    seen = life > entry
    exit_, failed = np.minimum(life, end)[seen], (life <= end)[seen]
    episodes = made(entry[seen].tolist(), exit_.tolist(), failed.tolist(), unit="miles")
    counted = weibull(count_episodes(episodes, unit="miles", what="bush", rule=""))
    table = pl.DataFrame(
        {
            "entry": entry[seen],
            "lower": exit_,
            "upper": np.where(failed, exit_, np.inf),
            "count": np.ones(exit_.size),
        }
    )
    exact = weibull(Counts(table, "miles", "bush", ""))
    assert counted.scale == pytest.approx(exact.scale, rel=1e-3)
    assert counted.shape == pytest.approx(exact.shape, rel=1e-3)
    assert DISTANCE_STEP_MI <= 100


def test_a_short_distance_is_not_rounded_away() -> None:
    episodes = made([60_000.0], [60_004.0], [True], unit="miles")
    counts = count_episodes(episodes, unit="miles", what="bush", rule="")
    assert counts.table.row(0) == (60_000.0, 60_004.0, 60_004.0, 1.0)


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ((5.0, 3.0, 3.0, 1.0), "the watch ends before it begins"),
        ((0.0, 3.0, 2.0, 1.0), "the upper bound lies below the lower"),
        ((3.0, 3.0, 3.0, 1.0), "a life ends at the moment watching begins"),
        ((-1.0, 3.0, 3.0, 1.0), "an age is negative"),
        ((0.0, float("nan"), 3.0, 1.0), "missing or not a number"),
        ((0.0, 3.0, 3.0, 0.0), "a count is not positive"),
        ((0.0, float("inf"), float("inf"), 1.0), "not finite"),
    ],
)
def test_what_no_life_can_be_is_refused_by_name(row: tuple[float, ...], why: str) -> None:
    table = pl.DataFrame([row], schema=["entry", "lower", "upper", "count"], orient="row")
    with pytest.raises(EstimateError, match=f"pump: .*{why}"):
        Counts(table, "years", "pump", "")


def test_an_unknown_unit_is_refused_with_those_there_are() -> None:
    with pytest.raises(ValueError, match="use years, miles, kilometres"):
        count_episodes(EPISODES.empty(), unit="hours", what="pump", rule="")
