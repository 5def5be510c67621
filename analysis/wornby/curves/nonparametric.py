"""Survival and cumulative hazard without assuming a form: Kaplan-Meier and Nelson-Aalen."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from wornby.curves.at_risk import beginning, number_at_risk, risk_sets, risk_sets_from
from wornby.curves.bands import (
    Band,
    check_confidence,
    hazard_limits,
    normal_root,
    survival_limits,
)
from wornby.curves.log_ages import Array
from wornby.curves.reach import past_longest_watch
from wornby.curves.uncertainty import Estimate
from wornby.histories.counts import Counts

ROUNDING = 1e-12


@dataclass(frozen=True, eq=False, slots=True)
class SurvivalCurve:
    """A step curve of survival given that `begins_at` was reached; see `early_rule` and `note`.

    `table` has one row for each failure age: age, at_risk, failures, survival, std_err, lower,
    upper. Where everyone has failed, std_err and the limits are empty.
    """

    table: pl.DataFrame
    counts: Counts
    confidence: float
    band: Band
    early_rule: str
    begins_at: float
    note: str

    def survival(self, age: ArrayLike) -> Array:
        """Chance of still running at each age; 1 up to the age at which the curve begins."""
        steps = np.append(1.0, self.table["survival"].to_numpy())
        return np.asarray(steps[np.searchsorted(self.table["age"], age, side="right")])

    def at_risk(self, ages: ArrayLike) -> Array:
        """How many lives were watched just before each age, for the line under a plot."""
        return number_at_risk(self.counts, np.atleast_1d(np.asarray(ages, dtype=np.float64)))

    def quantile(self, share: float) -> Estimate:
        """The age by which `share` have failed, its limits where the band crosses that level.

        Limits as in Brookmeyer & Crowley (1982), from whichever band the curve was made with. Where
        the curve is flat at exactly the level, the middle of the step. `None` where the curve never
        comes down so far; an infinite upper limit where its band does not. Where all at risk fail
        at once and the band says nothing, the lower limit is where the curve begins. ValueError: a
        share that is none.
        """
        if not 0 < share < 1:
            raise ValueError(f"share {share}: wanted between 0 and 1")
        value = self._crossing("survival", 1 - share)
        lower = self._crossing("lower", 1 - share)
        upper = self._crossing("upper", 1 - share)
        lowest = float(self.table["survival"].to_numpy().min(initial=1.0))
        note = "" if value is not None else f"not reached: survival ends at {lowest:.3g}"
        unit = self.counts.unit
        lower = self.begins_at if lower is None and value is not None else lower
        high = np.inf if upper is None else upper
        return Estimate(value, lower, high, self.confidence, unit, note)

    @property
    def median(self) -> Estimate:
        """The age by which half have failed."""
        return self.quantile(0.5)

    def restricted_mean(self, until: float) -> Estimate:
        """Mean life up to an age: the area under the curve from where it begins until then.

        Variance as in Klein & Moeschberger (2003), equation 4.5.2; limits are Wald's. ValueError:
        an age before the curve begins.
        """
        if not self.begins_at < until < np.inf:
            raise ValueError(f"until {until}: wanted an age after {self.begins_at:g}")
        note = past_longest_watch(self.counts, until)
        steps = self.table.filter(pl.col("age") < until)
        edges = np.concatenate([[self.begins_at], steps["age"].to_numpy(), [until]])
        area = np.append(1.0, steps["survival"].to_numpy()) * np.diff(edges)
        after = np.cumsum(area[::-1])[::-1][1:]
        n, d = steps["at_risk"].to_numpy(), steps["failures"].to_numpy()
        terms = np.where(n > d, after**2 * d / (n * np.maximum(n - d, 1e-300)), 0.0)
        reach = normal_root(self.confidence) * float(np.sqrt(terms.sum()))
        mean = float(area.sum())
        unit = self.counts.unit
        return Estimate(mean, mean - reach, mean + reach, self.confidence, unit, note)

    def _crossing(self, column: str, level: float) -> float | None:
        """The first age at which a step column lies below the level."""
        steps = self.table.select("age", step=pl.col(column)).drop_nulls()
        age, step = steps["age"].to_numpy(), steps["step"].to_numpy()
        reached = np.flatnonzero(step <= level + ROUNDING)
        if not reached.size:
            return None
        first = reached[0]
        flat = abs(step[first] - level) <= ROUNDING and first + 1 < age.size
        return float((age[first] + age[first + 1]) / 2 if flat else age[first])


def kaplan_meier(
    counts: Counts,
    *,
    confidence: float,
    band: Band = "log-log",
    early_rule: str = "after a collapse",
    begins_at: float | None = None,
) -> SurvivalCurve:
    """Product-limit survival with delayed entry and counts (Kaplan & Meier 1958).

    Standard errors are Greenwood's (1926). Failures known only within bounds are refused: use
    `turnbull`. `early_rule` names what is done with tiny early risk sets, see `EARLY_RULES`;
    `begins_at` instead asks for survival given that an age was reached. EstimateError: no lives,
    bounded failures, or too few at risk for the rule; ValueError: an unknown rule or band.

    >>> import polars as pl
    >>> table = pl.DataFrame(
    ...     {
    ...         "entry": [0.0, 0.0, 2.0, 3.0, 0.0],
    ...         "lower": [4.0, 6.0, 7.0, 9.0, 8.0],
    ...         "upper": [4.0, 6.0, 7.0, 9.0, float("inf")],
    ...         "count": [1.0, 2.0, 1.0, 1.0, 3.0],
    ...     }
    ... )
    >>> pumps = Counts(table, unit="years", what="water pump", rule="as watched")
    >>> curve = kaplan_meier(pumps, confidence=0.9)
    >>> curve.table.select("age", "at_risk", "failures").rows()
    [(4.0, 8.0, 1.0), (6.0, 7.0, 2.0), (7.0, 5.0, 1.0), (9.0, 1.0, 1.0)]
    >>> curve.survival([5.0, 7.0]).round(3).tolist()
    [0.875, 0.5]
    """
    check_confidence(confidence)
    every = risk_sets(counts)
    begins, note = beginning(counts, every, early_rule=early_rule, begins_at=begins_at)
    sets = risk_sets_from(every, begins)

    survival = np.asarray(np.cumprod(1 - sets.failures / sets.at_risk), dtype=np.float64)
    left = sets.at_risk - sets.failures
    with np.errstate(divide="ignore", invalid="ignore"):
        relative = np.asarray(np.cumsum(sets.failures / (sets.at_risk * left))) ** 0.5
        std_err = survival * relative
    lower, upper = survival_limits(survival, relative, confidence=confidence, band=band)
    table = pl.DataFrame(
        {
            "age": sets.age,
            "at_risk": sets.at_risk,
            "failures": sets.failures,
            "survival": survival,
            "std_err": std_err,
            "lower": lower,
            "upper": upper,
        }
    ).with_columns(pl.col("std_err", "lower", "upper").fill_nan(None))
    return SurvivalCurve(table, counts, confidence, band, early_rule, begins, note)


@dataclass(frozen=True, eq=False, slots=True)
class HazardCurve:
    """A step curve of the cumulative hazard from `begins_at`.

    `table` has age, at_risk, failures, cumulative_hazard, std_err, lower, upper.
    """

    table: pl.DataFrame
    counts: Counts
    confidence: float
    early_rule: str
    begins_at: float
    note: str

    def cumulative_hazard(self, age: ArrayLike) -> Array:
        """Hazard gathered by each age; 0 up to the age at which the curve begins."""
        steps = np.append(0.0, self.table["cumulative_hazard"].to_numpy())
        return np.asarray(steps[np.searchsorted(self.table["age"], age, side="right")])


def nelson_aalen(
    counts: Counts,
    *,
    confidence: float,
    early_rule: str = "after a collapse",
    begins_at: float | None = None,
) -> HazardCurve:
    """Cumulative hazard with delayed entry and counts (Nelson 1972; Aalen 1978).

    The variance is the sum of failures / at_risk^2, the limits are on the logarithmic scale.
    Refuses as `kaplan_meier` does.

    >>> import polars as pl
    >>> ages = [4.0, 6.0, 7.0, 9.0, 9.5]
    >>> table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 1.0})
    >>> seals = Counts(table, unit="years", what="seal", rule="as watched")
    >>> nelson_aalen(seals, confidence=0.9).cumulative_hazard([5.0, 6.0]).tolist()
    [0.2, 0.45]
    """
    check_confidence(confidence)
    every = risk_sets(counts)
    begins, note = beginning(counts, every, early_rule=early_rule, begins_at=begins_at)
    sets = risk_sets_from(every, begins)

    hazard = np.cumsum(sets.failures / sets.at_risk)
    std_err = np.sqrt(np.cumsum(sets.failures / sets.at_risk**2))
    lower, upper = hazard_limits(hazard, std_err, confidence=confidence)
    table = pl.DataFrame(
        {
            "age": sets.age,
            "at_risk": sets.at_risk,
            "failures": sets.failures,
            "cumulative_hazard": hazard,
            "std_err": std_err,
            "lower": lower,
            "upper": upper,
        }
    )
    return HazardCurve(table, counts, confidence, early_rule, begins, note)
