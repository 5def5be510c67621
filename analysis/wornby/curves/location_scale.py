"""Lognormal and log-logistic curves: rivals of the Weibull, in the same likelihood."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wornby.curves.likelihood import LOGLOGISTIC, LOGNORMAL, Family
from wornby.curves.log_ages import Array, evidence
from wornby.curves.parametric import check_enough, fitted
from wornby.histories.counts import Counts


@dataclass(frozen=True, eq=False, slots=True)
class LogAgeCurve:
    """A curve whose log age is location + spread x a standard variable of the family.

    `covariance` is that of (location, log spread). For the lognormal, location and spread are
    the mean and standard deviation of the log life.
    """

    family: Family
    location: float
    spread: float
    unit: str
    log_likelihood: float
    covariance: Array
    counts: Counts

    def survival(self, age: ArrayLike) -> Array:
        """Chance that a part is still running at each age."""
        at = np.asarray(age, dtype=np.float64)
        with np.errstate(divide="ignore"):
            z = np.maximum((np.log(at) - self.location) / self.spread, -1e100)
        return np.exp(self.family.log_survival(z)[0])

    def b_life(self, share: float) -> float:
        """Age by which `share` of the parts have failed.

        ValueError: a share that is none.
        """
        if not 0 < share < 1:
            raise ValueError(f"share {share}: wanted between 0 and 1")
        return float(np.exp(self.location + self.spread * self.family.quantile(share)))


def log_age_curve(family: Family, counts: Counts) -> LogAgeCurve:
    """The curve of a family with the highest likelihood; refuses as `weibull` does."""
    check_enough(counts)
    known = evidence(counts)
    summit = fitted(family, known, counts)
    intercept, slope = summit.point[0]
    jacobian = np.array([[1 / slope, -intercept / slope**2], [0.0, -1 / slope]])
    covariance = jacobian @ np.linalg.inv(-summit.hessian[0]) @ jacobian.T
    return LogAgeCurve(
        family=family,
        location=float(known.centre + intercept / slope),
        spread=float(1 / slope),
        unit=counts.unit,
        log_likelihood=float(summit.value[0]),
        covariance=np.asarray(covariance),
        counts=counts,
    )


def lognormal(counts: Counts) -> LogAgeCurve:
    """Lognormal curve by maximum likelihood (Meeker & Escobar 1998, section 8.3).

    Takes and refuses what `weibull` does.

    >>> import polars as pl
    >>> ages = [4.0, 6.0, 7.0, 9.0, 9.5]
    >>> table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 1.0})
    >>> seals = Counts(table, unit="years", what="seal", rule="as watched")
    >>> curve = lognormal(seals)
    >>> round(curve.location, 3), round(curve.spread, 3), round(curve.b_life(0.5), 2)
    (1.914, 0.313, 6.78)
    """
    return log_age_curve(LOGNORMAL, counts)


def log_logistic(counts: Counts) -> LogAgeCurve:
    """Log-logistic curve by maximum likelihood (Lawless 2003, section 5.2).

    Takes and refuses what `weibull` does.

    >>> import polars as pl
    >>> ages = [4.0, 6.0, 7.0, 9.0, 9.5]
    >>> table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 1.0})
    >>> seals = Counts(table, unit="years", what="seal", rule="as watched")
    >>> round(log_logistic(seals).b_life(0.1), 2)
    4.64
    """
    return log_age_curve(LOGLOGISTIC, counts)
