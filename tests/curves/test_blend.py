"""Age or distance: the scale on which parts were made to wear is the one that is found."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.blend import age_or_distance
from wornby.errors import EstimateError


def lives(weight: float, n: int, rng: np.random.Generator) -> pl.DataFrame:
    """Vehicles driven 3,000 to 25,000 miles a year; `weight` of the wear comes from distance."""
    a_year = np.exp(rng.normal(9, 0.5, n))
    wear = (1 - weight) / 10 + weight * a_year / 90_000
    life, entry = rng.weibull(3, n) / wear, rng.uniform(0, 5, n)
    end = np.minimum(life, entry + 7)
    frame = pl.DataFrame(
        {
            "entry_years": entry,
            "exit_years": end,
            "entry_mi": entry * a_year,
            "exit_mi": end * a_year,
            "failed": life <= entry + 7,
            "count": 1.0,
        }
    )
    return frame.filter(pl.col("exit_years") > pl.col("entry_years"))


@pytest.mark.parametrize(("weight", "scale"), [(0.0, "age"), (1.0, "distance")])
def test_the_other_scale_alone_is_ruled_out(weight: float, scale: str) -> None:
    other = "distance" if scale == "age" else "age"
    found = age_or_distance(lives(weight, 600, np.random.default_rng(2)), confidence=0.9)
    alone = found.table.filter(pl.col("scale") != "blend")
    assert alone["scale"][0] == scale
    assert f"{other} alone ruled out at 90%" in found.sentence
    assert found.table["support"].sum() == pytest.approx(1)


def test_limits_hold_the_true_blend() -> None:
    """The mean scales at failure move with the data, so the truth is told in miles a year."""
    rng, held = np.random.default_rng(3), 0
    for _ in range(40):
        found = age_or_distance(lives(0.5, 250, rng), confidence=0.9)
        assert found.miles_per_year is not None
        to_weight = found.miles_per_year * found.distance_weight / (1 - found.distance_weight)
        truth = 1 / (1 + 9000 / to_weight)
        held += found.lower <= truth <= found.upper
    assert 31 <= held <= 40


def test_needs_a_failure_with_both() -> None:
    frame = lives(0.5, 20, np.random.default_rng(4)).with_columns(exit_mi=pl.lit(None))
    with pytest.raises(EstimateError, match="no failure with both age and distance"):
        age_or_distance(frame.with_columns(pl.col("exit_mi").cast(pl.Float64)), confidence=0.9)


def test_refuses_a_distance_that_cannot_be() -> None:
    frame = lives(0.5, 20, np.random.default_rng(5))
    with pytest.raises(EstimateError, match="an age or distance that cannot be"):
        age_or_distance(frame.with_columns(exit_mi=pl.lit(np.inf)), confidence=0.9)
