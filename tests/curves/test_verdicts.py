"""Verdicts on a stated scale: which curve fits, and what is said when none does."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.verdicts import Fit, fit_verdicts, sets_for
from wornby.histories.counts import Counts

N = 299


def as_watched(life: np.ndarray, *, for_years: float) -> Counts:
    """Lives watched from new for some years."""
    end = np.minimum(life, for_years)
    upper = np.where(life > for_years, np.inf, end)
    table = pl.DataFrame({"entry": 0.0, "lower": end, "upper": upper, "count": 1.0})
    return Counts(table, "years", "part", "as watched")


def judged(counts: dict[str, Counts]) -> dict[str, Fit]:
    """Verdicts at the 5 % level."""
    return fit_verdicts(
        counts, level=0.05, n=N, rng_of=lambda name: np.random.default_rng([*name.encode()])
    )


def test_a_batch_of_bad_parts_among_good_ones_fits_no_curve() -> None:
    rng = np.random.default_rng(2)
    bad = rng.random(300) < 0.25
    mixed = np.where(bad, rng.exponential(1, 300), 12 * rng.weibull(6, 300))
    good = 9 * rng.weibull(2, 100)
    fits = judged(
        {"mixed": as_watched(mixed, for_years=14), "good": as_watched(good, for_years=14)}
    )
    assert fits["mixed"].verdict == "no two-parameter curve fits"
    assert fits["mixed"].weibull_fits is False
    assert set(fits["mixed"].p_values) == {"Weibull", "lognormal", "log-logistic"}
    assert fits["good"].verdict == "Weibull fits"
    assert set(fits["good"].p_values) == {"Weibull"}


def test_lognormal_lives_are_named_as_such() -> None:
    rng = np.random.default_rng(3)
    fit = judged({"x": as_watched(np.exp(rng.normal(2, 0.5, 500)), for_years=20)})["x"]
    assert fit.verdict == "another two-parameter curve fits better: lognormal"


def test_failures_known_within_bounds_are_ranked_but_not_tested() -> None:
    table = pl.DataFrame(
        {
            "entry": 0.0,
            "lower": [0.0, 2.0, 4.0, 6.0],
            "upper": [2.0, 4.0, 6.0, np.inf],
            "count": [2.0, 5.0, 6.0, 9.0],
        }
    )
    fit = judged({"hose": Counts(table, "years", "hose", "as inspected")})["hose"]
    assert fit.weibull_fits is None
    assert "known only within bounds" in fit.reason
    assert fit.table.height == 7


def test_the_more_components_are_tested_the_more_sets_are_simulated() -> None:
    """The least p-value that n sets can give is 1/(n + 1); Holm's first level is level/tests."""
    for tests in (1, 14, 60):
        assert 1 / (sets_for(tests, 0.05) + 1) <= 0.05 / tests


def test_one_test_among_many_is_held_to_account() -> None:
    rng = np.random.default_rng(5)
    every = {str(n): as_watched(9 * rng.weibull(2, 60), for_years=12) for n in range(6)}
    fits = judged(every)
    least = min(fits.values(), key=lambda fit: fit.p_values["Weibull"])
    assert least.held == pytest.approx(min(1.0, 6 * least.p_values["Weibull"]))


def test_what_is_rejected_is_the_same_where_rivals_are_sought_only_then() -> None:
    rng = np.random.default_rng(3)
    counts = {
        "lognormal": as_watched(np.exp(rng.normal(2, 0.5, 200)), for_years=20),
        "Weibull": as_watched(9 * rng.weibull(2, 60), for_years=14),
    }
    whole = judged(counts)
    lean = fit_verdicts(
        counts,
        level=0.05,
        n=N,
        rng_of=lambda name: np.random.default_rng([*name.encode()]),
        rejected_only=True,
    )
    for name, fit in whole.items():
        assert (lean[name].verdict, lean[name].p_values) == (fit.verdict, fit.p_values)
        assert lean[name].weibull_fits == fit.weibull_fits
        assert lean[name].table.is_empty()
