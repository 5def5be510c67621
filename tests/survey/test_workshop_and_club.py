"""A workshop's lives and a club's: one curve, or two."""

import numpy as np
import polars as pl
import pytest
from scipy.stats import kstest

from wornby.curves.parametric import weibull
from wornby.errors import EstimateError
from wornby.histories.counts import Counts
from wornby.histories.observation import WORKSHOP
from wornby.histories.watching import Episodes
from wornby.ledger import Ledger
from wornby.survey.lives_alike import lives_together
from wornby.survey.workshop_and_club import first_of_vehicle, two_sources


def exact(ages: np.ndarray, *, until: float) -> Counts:
    """Lives watched from new to an age."""
    table = pl.DataFrame({"entry": 0.0, "lower": np.minimum(ages, until), "count": 1.0})
    upper = pl.when(pl.Series(ages <= until)).then("lower").otherwise(float("inf"))
    return Counts(table.with_columns(upper=upper), "years", "pump (workshop)", "as watched")


def to_the_year(ages: np.ndarray, *, until: float) -> Counts:
    """Lives told by the year, as owners do."""
    failed = ages <= until
    table = pl.DataFrame(
        {
            "entry": 0.0,
            "lower": np.where(failed, np.floor(ages), until),
            "upper": np.where(failed, np.floor(ages) + 1, np.inf),
            "count": 1.0,
        }
    )
    return Counts(table, "years", "pump (club)", "as told")


def lives(rng: np.random.Generator, n: int, *, scale: float = 10.0) -> np.ndarray:
    return scale * rng.weibull(2.5, n)


def test_where_both_are_of_one_life_every_p_value_is_as_likely() -> None:
    """200 pairs; Kolmogorov & Smirnov's test of the p-values against the uniform."""
    rng = np.random.default_rng(5)
    found = [
        two_sources(
            exact(lives(rng, 80), until=12), to_the_year(lives(rng, 60), until=14), level=0.1
        ).p_value
        for _ in range(200)
    ]
    assert kstest(np.array(found, dtype=float), "uniform").pvalue > 0.01


def test_lives_that_differ_by_half_are_told_apart_and_not_pooled() -> None:
    rng = np.random.default_rng(6)
    one = two_sources(
        exact(lives(rng, 150), until=12), to_the_year(lives(rng, 150, scale=15), until=14),
        level=0.1,
    )  # fmt: skip
    assert one.p_value is not None
    assert one.p_value < 0.001
    assert one.compatible is False
    assert one.together is None


def test_together_is_the_fit_of_all_lives_and_narrower() -> None:
    rng = np.random.default_rng(7)
    ours, theirs = exact(lives(rng, 90), until=12), to_the_year(lives(rng, 90), until=14)
    one = two_sources(ours, theirs, level=0.1)
    assert one.compatible
    assert one.workshop is not None
    assert one.together is not None
    assert one.together.scale == pytest.approx(weibull(lives_together([ours, theirs])).scale)
    assert one.together.covariance[0, 0] < one.workshop.covariance[0, 0]


def test_too_few_renewals_are_said_not_tested() -> None:
    rng = np.random.default_rng(8)
    few = exact(np.array([3.0, 20, 20, 20, 20]), until=12)
    one = two_sources(few, to_the_year(lives(rng, 50), until=14), level=0.1)
    assert (one.p_value, one.compatible, one.together) == (None, None, None)
    assert one.reason == "too few renewals in the workshop's records"
    assert one.club is not None


def test_units_must_agree() -> None:
    years = exact(np.arange(1.0, 9), until=12)
    miles = Counts(years.table, "miles", "belt", "as told")
    with pytest.raises(ValueError, match="wanted one unit"):
        two_sources(years, miles, level=0.1)


def bushes(*rows: tuple[str, str, int, int, bool]) -> Episodes:
    """Original bushes: vehicle, position, entry, exit in days, renewed."""
    schema = ["vehicle", "position", "entry_days", "exit_days", "failed"]
    table = pl.DataFrame(rows, schema=schema, orient="row").with_columns(
        component=pl.lit("bush"),
        origin=pl.lit("original"),
        sound_days="exit_days",
        entry_mi=pl.lit(None, pl.Float64),
        exit_mi=pl.lit(None, pl.Float64),
        sound_mi=pl.lit(None, pl.Float64),
        weight=1.0,
    )
    return Episodes(table, WORKSHOP, Ledger("fitments", table.height, table.height))


def test_an_owner_calls_it_renewed_when_either_side_was() -> None:
    """Left renewed at 2 years, right watched to 4; seen from half a year and a year on."""
    made = bushes(("v", "left", 183, 730, True), ("v", "right", 365, 1461, False))
    counts = first_of_vehicle(made, "bush", unit="years", n_places=2)
    ((entry, lower, upper, count),) = counts.table.rows()
    assert (entry, lower, upper, count) == pytest.approx((1.0, 2.0, 2.0, 1.0), abs=0.01)


def test_a_vehicle_of_which_one_side_was_never_original_tells_nothing() -> None:
    made = bushes(("v", "left", 0, 730, True))
    with pytest.raises(EstimateError, match="no vehicle watched with all its originals"):
        first_of_vehicle(made, "bush", unit="years", n_places=2)


def test_of_two_sides_neither_of_which_is_named_one_renewal_is_counted() -> None:
    half = [("v", side, 0, 730, failed) for side in ("left", "right") for failed in (True, False)]
    counts = first_of_vehicle(bushes(*half), "bush", unit="years", n_places=2)
    assert (counts.n_lives, counts.n_failures) == (1.0, 1.0)
