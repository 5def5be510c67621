"""Weibull curves when the shape is given: Weibayes, its chi-square bounds, and a gamma prior.

With the shape given, exit^shape - entry^shape summed over the lives is an exposure in which
failures come at a constant rate (IEC 61649:2008 calls the method Weibayes; Nelson 1985). The
chi-square limits are those of a Poisson count.
"""

from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2, gamma, nbinom

from wornby.curves.bands import check_confidence
from wornby.curves.reach import below, beyond, last_failure, youngest_entry
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import Counts


@dataclass(frozen=True, slots=True)
class WeibayesCurve:
    """A Weibull with a given shape: `exposure` is the sum of exit^shape - entry^shape.

    Answers past `last_failure`, or below `youngest_entry`, ages in `unit`, are marked as
    extrapolated.
    """

    shape: float
    failures: float
    exposure: float
    unit: str
    last_failure: float = np.inf
    youngest_entry: float = 0.0

    def life_at(self, expected: float, share: float) -> float:
        """The age by which `share` have failed if `expected` failures go with the exposure."""
        if expected == 0:
            return np.inf
        return float((self.exposure / expected * -np.log1p(-share)) ** (1 / self.shape))

    def scale(self, *, confidence: float) -> Estimate:
        """The scale, with two-sided chi-square limits; without a failure, its lower bound."""
        return self.b_life(-np.expm1(-1.0), confidence=confidence)

    def b_life(self, share: float, *, confidence: float) -> Estimate:
        """The age by which `share` have failed; without a failure only its lower bound.

        ValueError: a share or confidence that is none.
        """
        check_confidence(confidence)
        if not 0 < share < 1:
            raise ValueError(f"share {share}: wanted between 0 and 1")
        if not self.failures:
            lowest = self.lowest_b_life(share, confidence=confidence)
            note = "no failure seen: a one-sided bound"
            return Estimate(None, lowest, np.inf, confidence, self.unit, note)
        least = chi2.ppf((1 - confidence) / 2, 2 * self.failures) / 2
        most = chi2.ppf((1 + confidence) / 2, 2 * self.failures + 2) / 2
        value, lower, upper = (self.life_at(n, share) for n in (self.failures, most, least))
        note = beyond("last failure", value, last=self.last_failure, unit=self.unit) or below(
            value, first=self.youngest_entry, unit=self.unit
        )
        return Estimate(value, lower, upper, confidence, self.unit, note)

    def lowest_b_life(self, share: float, *, confidence: float) -> float:
        """One-sided lower limit: chi-square with twice the failures and two degrees of freedom.

        ValueError: a share or confidence that is none.
        """
        check_confidence(confidence)
        if not 0 < share < 1:
            raise ValueError(f"share {share}: wanted between 0 and 1")
        return self.life_at(float(chi2.ppf(confidence, 2 * self.failures + 2)) / 2, share)


def weibayes(counts: Counts, *, shape: float) -> WeibayesCurve:
    """Weibull curve with a given shape, from any number of failures at known ages.

    Delayed entry counts through the exposure. ValueError: a shape that is none. EstimateError: no
    lives, failures within bounds, or ages whose powers are past what a number can hold.

    >>> import polars as pl
    >>> table = pl.DataFrame(
    ...     {"entry": 0.0, "lower": [18.0, 22.0], "upper": float("inf"), "count": [6.0, 6.0]}
    ... )
    >>> units = Counts(table, unit="hours", what="unit", rule="as watched")
    >>> round(weibayes(units, shape=2.0).lowest_b_life(0.1, confidence=0.95), 2)
    13.06
    """
    if not 0 < shape < np.inf:
        raise ValueError(f"shape {shape}: wanted above 0")
    entry, lower, upper, count = counts.columns()
    if not counts.table.height:
        raise EstimateError(f"{counts.what}: no lives to judge by")
    if (np.isfinite(upper) & (upper > lower)).any():
        raise EstimateError(
            f"{counts.what}: failures known only within bounds, wanted exact ages:"
            " use weibull_posterior"
        )
    with np.errstate(over="ignore", under="ignore", invalid="ignore"):
        exposure = float((count * (lower**shape - entry**shape)).sum())
    if not np.isfinite(exposure) or (exposure <= 0 and (lower > entry).any()):
        raise EstimateError(
            f"{counts.what}: ages up to {lower.max():g} {counts.unit} to the power {shape:g} are"
            " past reckoning: wanted a smaller shape or a larger unit"
        )
    ages = last_failure(counts), youngest_entry(counts)
    return WeibayesCurve(shape, counts.n_failures, exposure, counts.unit, *ages)


@dataclass(frozen=True, slots=True)
class RateBelief:
    """A gamma distribution of a failure rate: worth `failures` in `exposure`.

    Ahead of the data it is the conjugate prior of a Poisson count, after them the posterior
    (Gelman et al. 2013, section 2.6). With a given Weibull shape the rate is scale^-shape.
    A belief worth no failures, or no exposure, is a start only: `after` some it answers.
    ValueError: less than nought of either.

    >>> fans = RateBelief(2, 4).after(3, 10)
    >>> round(fans.mean, 3), round(fans.quantile(0.95), 3)
    (0.357, 0.654)
    """

    failures: float
    exposure: float

    def __post_init__(self) -> None:
        """Refuse what no belief is worth."""
        if not (0 <= self.failures < np.inf and 0 <= self.exposure < np.inf):
            raise ValueError(f"{self}: wanted failures and exposure of 0 or more")

    def _proper(self) -> None:
        """Refuse to answer from a belief worth nothing."""
        if not (self.failures and self.exposure):
            raise EstimateError(f"{self} is worth no failures or no exposure: no rate to be had")

    def after(self, failures: float, exposure: float) -> "RateBelief":
        """The belief once more failures in more exposure were seen."""
        return RateBelief(self.failures + failures, self.exposure + exposure)

    @property
    def mean(self) -> float:
        """The mean rate."""
        self._proper()
        return self.failures / self.exposure

    def quantile(self, share: float) -> float:
        """The rate below which the truth lies with chance `share`.

        ValueError: a share that is none. EstimateError: a belief worth nothing.
        """
        self._proper()
        if not 0 < share < 1:
            raise ValueError(f"share {share}: wanted between 0 and 1")
        return float(gamma.ppf(share, self.failures, scale=1 / self.exposure))

    def chance_of_more_than(self, failures: int, *, exposure: float) -> float:
        """Chance of more than so many failures in a coming exposure: negative binomial.

        ValueError: no exposure. EstimateError: a belief worth nothing.
        """
        self._proper()
        if not 0 < exposure < np.inf:
            raise ValueError(f"exposure {exposure}: wanted above 0")
        share = self.exposure / (self.exposure + exposure)
        return float(nbinom.sf(failures, self.failures, share))

    def b_life_quantile(self, share: float, *, shape: float, probability: float) -> float:
        """Posterior quantile of the age by which `share` have failed, for a given shape.

        ValueError: a share, shape or probability that is none. EstimateError as `quantile`.
        """
        if not (0 < share < 1 and 0 < shape < np.inf):
            raise ValueError(f"share {share}, shape {shape}: wanted a share, and a shape above 0")
        rate = self.quantile(1 - probability)
        return float((-np.log1p(-share) / rate) ** (1 / shape))
