"""What distances that were never read add to the doubt about a life on distance."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.stats import t as student

from wornby.curves.bands import check_confidence
from wornby.curves.log_ages import Array
from wornby.curves.parametric import WeibullCurve, weibull
from wornby.curves.profile import b_life
from wornby.curves.quantities import deviation
from wornby.curves.uncertainty import Estimate
from wornby.histories.counts import count_episodes
from wornby.histories.unread_distances import plausible_distances


@dataclass(frozen=True, slots=True)
class Combined:
    """Several estimates of one quantity from several completed sets of data, as one.

    `within` is the mean of their variances and `between` the variance of the estimates;
    `total` = within + (1 + 1/m) between, with `freedom` degrees of freedom.
    """

    mean: float
    within: float
    between: float
    total: float
    freedom: float

    @property
    def share(self) -> float:
        """The share of the variance that comes from what was not known."""
        return 1 - self.within / self.total if self.total else 0.0

    def limits(self, confidence: float) -> tuple[float, float]:
        """Student's interval around the mean."""
        check_confidence(confidence)
        reach = float(student.ppf((1 + confidence) / 2, self.freedom)) * np.sqrt(self.total)
        return self.mean - float(reach), self.mean + float(reach)


def combined(estimates: Array, variances: Array) -> Combined:
    """One estimate from those of m completed sets of data (Rubin 1987, equations 3.1.2-3.1.6).

    ValueError: fewer than two.

    >>> made = combined(np.array([1.0, 2.0, 3.0]), np.array([0.5, 0.5, 0.5]))
    >>> made.mean, round(made.total, 4), round(made.freedom, 3), round(made.share, 3)
    (2.0, 1.8333, 3.781, 0.727)
    """
    m = estimates.size
    if m < 2:
        raise ValueError(f"{m} completed sets of data: wanted two or more")
    within, between = float(variances.mean()), float(estimates.var(ddof=1))
    added = (1 + 1 / m) * between
    freedom = (m - 1) * (1 + within / added) ** 2 if added > 0 else float("inf")
    return Combined(float(estimates.mean()), within, between, within + added, freedom)


@dataclass(frozen=True, slots=True)
class DistanceDoubt:
    """A B-life on distance with the distances taken as known, and with their doubt in it.

    Both intervals are Wald's on the logarithm. `logs` holds the parts of the variance of the
    logarithm; `not_read` the share of entries and exits on days without a reading.
    """

    fixed: Estimate
    uncertain: Estimate
    logs: Combined
    not_read: float


def distance_doubt(
    lives: pl.DataFrame,
    readings: pl.DataFrame,
    *,
    unit: str,
    share: float,
    what: str,
    rule: str,
    n_draws: int,
    confidence: float,
    rng: np.random.Generator,
) -> DistanceDoubt:
    """The distance by which `share` of the parts have failed, without and with unknown distances.

    `lives` are episodes of one component, `readings` those of their vehicles and the rest of the
    fleet, from new. Distances on days without a reading are drawn `n_draws` times (multiple
    imputation), a Weibull curve is fitted to each completed set, and the logarithms of its B-lives
    are combined by Rubin's rules. The draws use the readings, not how the part ended, and hold the
    fleet's distribution of pace fixed at its estimate. In `unit`, miles or kilometres.
    EstimateError as `weibull`, ValueError: fewer than two draws.

    >>> from datetime import date
    >>> new, read, miles = date(2008, 1, 1), date(2014, 1, 1), [40e3, 52e3, 66e3, 95e3, 90e3]
    >>> readings = pl.DataFrame(
    ...     {
    ...         "vehicle": [*"abcdeabcde"],
    ...         "date": [new] * 5 + [read] * 5,
    ...         "odometer_mi": [0.0] * 5 + miles,
    ...     }
    ... )
    >>> bushes = pl.DataFrame(
    ...     {"vehicle": [*"abcde"], "exit_mi": [30e3, 45e3, 60e3, 80e3, 75e3], "failed": True}
    ... ).with_columns(
    ...     entered_on=pl.lit(new), exited_on=pl.lit(date(2013, 1, 1)), entry_days=0,
    ...     exit_days=1827, sound_days=1827, entry_mi=0.0, sound_mi="exit_mi", weight=1.0,
    ... )
    >>> found = distance_doubt(
    ...     bushes, readings, unit="miles", share=0.1, what="bush", rule="as watched", n_draws=5,
    ...     confidence=0.9, rng=np.random.default_rng(1),
    ... )
    >>> round(found.fixed.value, -2), found.not_read
    (34900.0, 0.5)
    """
    told = lives.filter(pl.col("entry_mi").is_not_null() & pl.col("exit_mi").is_not_null())

    def fitted(frame: pl.DataFrame) -> WeibullCurve:
        return weibull(count_episodes(frame, unit=unit, what=what, rule=rule))

    drawn = plausible_distances(told, readings, n_draws=n_draws, rng=rng)
    curves = [
        fitted(told.with_columns(**{name: pl.Series(miles[n]) for name, miles in drawn.items()}))
        for n in range(n_draws)
    ]
    logs = combined(
        np.log([curve.b_life(share) for curve in curves]),
        np.array([_log_b_variance(curve, share) for curve in curves]),
    )
    value, lower, upper = (float(np.exp(x)) for x in (logs.mean, *logs.limits(confidence)))
    curve = fitted(told)
    fixed = b_life(curve, share, confidence=confidence, method="wald")
    return DistanceDoubt(
        fixed=fixed,
        uncertain=Estimate(value, lower, upper, confidence, curve.unit, fixed.note),
        logs=logs,
        not_read=_not_read(told, readings),
    )


def _log_b_variance(curve: WeibullCurve, share: float) -> float:
    """Variance of the logarithm of a B-life, by the delta method."""
    gradient = np.array([[1.0, -np.log(-np.log1p(-share)) / curve.shape]])
    return float(deviation(curve, gradient)[0]) ** 2


def _not_read(lives: pl.DataFrame, readings: pl.DataFrame) -> float:
    """The share of entries and exits that fall on a day without a reading."""
    ends = pl.concat([lives.select("vehicle", date=day) for day in ("entered_on", "exited_on")])
    missing = ends.join(readings, on=["vehicle", "date"], how="anti")
    return missing.height / ends.height if ends.height else 0.0
