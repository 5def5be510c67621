"""Parts renewed while they still work, simulated with a known hazard."""

import numpy as np
import polars as pl
import pytest

from wornby.decisions.renewed_early import EARLY, early_renewals, gathered_ahead


def watched(n: int, *, renewed_a_year: float, miles_a_year: float = 10_000) -> pl.DataFrame:
    """Episodes from new, over at most twelve years: a part fails, is renewed early, or neither."""
    rng = np.random.default_rng(3)
    fails = 10 * rng.weibull(2.5, size=n)
    renewed = rng.exponential(1 / max(renewed_a_year, 1e-9), size=n)
    stop = rng.uniform(1, 12, size=n)
    ends = np.minimum(np.minimum(fails, renewed), stop)
    ending = np.where(ends == stop, "in service", np.where(ends == fails, "failure", EARLY[0]))
    days = np.maximum(np.round(ends * 365.25), 1)
    return pl.DataFrame({"exit_days": days, "ending": ending}).with_columns(
        entry_days=0.0,
        sound_days="exit_days",
        entry_mi=0.0,
        sound_mi=pl.col("exit_days") / 365.25 * miles_a_year,
        exit_mi=pl.col("exit_days") / 365.25 * miles_a_year,
        failed=pl.col("ending") == "failure",
        weight=1.0,
    )


@pytest.mark.parametrize(("unit", "year"), [("years", 1.0), ("miles", 10_000.0)])
def test_the_hazard_is_that_of_the_simulated_workshop(unit: str, year: float) -> None:
    """A tenth a year are renewed early, whatever fails meanwhile."""
    known = early_renewals(
        watched(4_000, renewed_a_year=0.1), unit=unit, what="pump", rng=np.random.default_rng(1)
    )
    assert known is not None
    ahead = gathered_ahead(known, np.array([2.0, 6.0]) * year, np.array([1.0, 1.0]) * year)
    assert ahead == pytest.approx([0.1, 0.1], rel=0.12)


def test_where_none_is_renewed_early_there_is_no_such_hazard() -> None:
    rng = np.random.default_rng(1)
    assert early_renewals(watched(300, renewed_a_year=0.0), unit="years", what="pump", rng=rng) is (
        None
    )


def test_a_renewal_that_ends_a_life_by_the_rule_is_not_early() -> None:
    all_end = watched(500, renewed_a_year=0.2).with_columns(failed=pl.col("ending") != "in service")
    rng = np.random.default_rng(1)
    assert early_renewals(all_end, unit="years", what="pump", rng=rng) is None
