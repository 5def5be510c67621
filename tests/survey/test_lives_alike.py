"""One life or several: against lifelines, the test's level, and what it finds."""

import numpy as np
import polars as pl
import pytest
from lifelines import WeibullFitter
from scipy.stats import kstest

from wornby.curves.parametric import WeibullCurve, weibull
from wornby.histories.counts import Counts
from wornby.survey.lives_alike import one_life


def curve(ages: np.ndarray, *, until: float, unit: str = "years") -> WeibullCurve:
    """The Weibull of lives watched from new to an age."""
    failed = ages <= until
    table = pl.DataFrame(
        {
            "entry": 0.0,
            "lower": np.minimum(ages, until),
            "upper": np.where(failed, ages, np.inf),
            "count": 1.0,
        }
    )
    return weibull(Counts(table, unit, "pump", "as watched"))


def told(rng: np.random.Generator, n: int, *, scale: float = 10.0) -> WeibullCurve:
    """The Weibull of lives told by the year, half of them weighing twice as much as the others.

    They count as many as they are worth.
    """
    ages, weight = scale * rng.weibull(2.5, n), np.where(np.arange(n) % 2, 1.0, 2.0)
    failed = ages <= 12.0
    table = pl.DataFrame(
        {
            "entry": 0.0,
            "lower": np.where(failed, np.floor(ages), 12.0),
            "upper": np.where(failed, np.floor(ages) + 1, np.inf),
            "count": weight * weight.sum() / (weight**2).sum(),
        }
    )
    return weibull(Counts(table, "years", "pump (as told)", "as told"))


def test_the_statistic_is_that_of_lifelines_likelihoods() -> None:
    """Three groups, censored at 12: twice what three fits gain over one; chi-square with four."""
    rng = np.random.default_rng(3)
    groups = [scale * rng.weibull(2.0, 40) for scale in (8.0, 10.0, 13.0)]

    def likelihood(ages: np.ndarray) -> float:
        fitted = WeibullFitter().fit(np.minimum(ages, 12.0), ages <= 12.0)
        return float(fitted.log_likelihood_)

    gain = 2 * (sum(map(likelihood, groups)) - likelihood(np.concatenate(groups)))
    found = one_life([curve(ages, until=12.0) for ages in groups])
    assert found.statistic == pytest.approx(gain, rel=1e-4)
    # of chi-square with four degrees of freedom the upper tail is exp(-x/2) (1 + x/2)
    assert found.p_value == pytest.approx(np.exp(-gain / 2) * (1 + gain / 2), rel=1e-3)


def test_versions_of_one_life_are_told_apart_as_seldom_as_said() -> None:
    """300 clubs of three versions, weights unequal; Kolmogorov & Smirnov against the uniform."""
    rng = np.random.default_rng(11)
    found = [one_life([told(rng, n) for n in (60, 40, 25)]).p_value for _ in range(300)]
    assert kstest(found, "uniform").pvalue > 0.01
    assert np.mean(np.array(found) < 0.05) < 0.09


def test_a_version_that_lasts_half_as_long_is_found() -> None:
    rng = np.random.default_rng(12)
    found = [one_life([told(rng, 50), told(rng, 30, scale=5.0)]).p_value for _ in range(20)]
    assert max(found) < 0.01


def test_one_group_or_two_units_are_refused() -> None:
    ages = np.array([4.0, 5.0, 6.0, 7.0, 9.0])
    with pytest.raises(ValueError, match="1 groups in years: wanted two or more"):
        one_life([curve(ages, until=10.0)])
    with pytest.raises(ValueError, match="years and miles"):
        one_life([curve(ages, until=10.0), curve(ages, until=10.0, unit="miles")])
