"""Intervals for what people decide on, from the likelihood ratio, with Wald's beside them.

Profile-likelihood limits are the values at which twice the drop of the maximised
log-likelihood equals the chi-square quantile with one degree of freedom (Meeker & Escobar 1998,
section 8.3.2). Wald limits are symmetric on the logarithmic scale (for chances, on the
logarithm of the cumulative hazard).

Each raises ValueError for a confidence outside 0 to 1, and EstimateError where limits are not
found; a limit that the data do not set is 0 or infinite.
"""

from collections.abc import Callable
from typing import Literal, TypeAlias

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from wornby.curves.bands import check_confidence, normal_root
from wornby.curves.log_ages import Array, evidence
from wornby.curves.parametric import WeibullCurve
from wornby.curves.profile_limits import Quantity, limits
from wornby.curves.quantities import log_b_life, log_hazard_by, log_hazard_within, log_shape
from wornby.curves.reach import outside_failures, past_longest_watch
from wornby.curves.uncertainty import Estimate

Method: TypeAlias = Literal["profile", "wald"]


def interval(
    curve: WeibullCurve, asked: Quantity, *, confidence: float, method: Method
) -> tuple[Array, Array]:
    """Lower and upper limits of a quantity, on its own scale."""
    check_confidence(confidence)
    root = normal_root(confidence)
    if method == "wald":
        return asked.best - root * asked.std_err, asked.best + root * asked.std_err
    return limits(evidence(curve.counts), curve.log_likelihood, asked, root=root)


def chance(log_hazard: Array) -> Array:
    """Chance of failing when the logarithm of the hazard gathered is given."""
    with np.errstate(over="ignore"):
        return -np.expm1(-np.exp(log_hazard))


def estimate(
    curve: WeibullCurve,
    asked: Quantity,
    natural: Callable[[Array], Array],
    *,
    confidence: float,
    method: Method,
    unit: str,
    note: str = "",
) -> Estimate:
    """One quantity with its interval, on its natural scale."""
    lower, upper = interval(curve, asked, confidence=confidence, method=method)
    value, low, high = (float(natural(limit)[0]) for limit in (asked.best, lower, upper))
    return Estimate(value, low, high, confidence, unit, note)


def shape_interval(
    curve: WeibullCurve, *, confidence: float, method: Method = "profile"
) -> Estimate:
    """The shape: above 1 the part wears, at 1 age tells nothing, below 1 it fails young.

    >>> from wornby.curves.parametric import weibull
    >>> from wornby.histories.counts import Counts
    >>> ages = [4.0, 6.0, 7.0, 9.0, 9.5]
    >>> table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 2.0})
    >>> curve = weibull(Counts(table, unit="years", what="seal", rule="as watched"))
    >>> shape = shape_interval(curve, confidence=0.9)
    >>> round(shape.value, 2), round(shape.lower, 2), round(shape.upper, 2)
    (4.18, 2.6, 6.23)
    """
    asked = log_shape(curve, centre=evidence(curve.counts).centre)
    return estimate(curve, asked, np.exp, confidence=confidence, method=method, unit="")


def scale_interval(
    curve: WeibullCurve, *, confidence: float, method: Method = "profile"
) -> Estimate:
    """The scale, which is the age by which 63.2 % have failed.

    >>> from wornby.curves.parametric import weibull
    >>> from wornby.histories.counts import Counts
    >>> ages = [4.0, 6.0, 7.0, 9.0, 9.5]
    >>> table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 2.0})
    >>> curve = weibull(Counts(table, unit="years", what="seal", rule="as watched"))
    >>> scale = scale_interval(curve, confidence=0.9)
    >>> round(scale.value, 2), round(scale.lower, 2), round(scale.upper, 2)
    (7.85, 6.77, 9.01)
    """
    return b_life(curve, -np.expm1(-1), confidence=confidence, method=method)


def b_life(
    curve: WeibullCurve, share: float, *, confidence: float, method: Method = "profile"
) -> Estimate:
    """The age by which `share` of the parts have failed: B10 life for a share of 0.1.

    Past the last failure, or younger than anybody was watched, it is marked as extrapolated.

    >>> from wornby.curves.parametric import weibull
    >>> from wornby.histories.counts import Counts
    >>> ages = [4.0, 6.0, 7.0, 9.0, 9.5]
    >>> table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 2.0})
    >>> curve = weibull(Counts(table, unit="years", what="seal", rule="as watched"))
    >>> life = b_life(curve, 0.1, confidence=0.9)
    >>> round(life.value, 2), round(life.lower, 2), round(life.upper, 2), life.unit
    (4.58, 3.06, 5.81, 'years')
    """
    age = curve.b_life(share)
    asked = log_b_life(curve, share, centre=evidence(curve.counts).centre)
    note = outside_failures(curve.counts, age)
    return estimate(
        curve, asked, np.exp, confidence=confidence, method=method, unit=curve.unit, note=note
    )


def share_failed(
    curve: WeibullCurve, age: float, *, confidence: float, method: Method = "profile"
) -> Estimate:
    """The share of parts that have failed by `age`, above 0; else ValueError.

    >>> from wornby.curves.parametric import weibull
    >>> from wornby.histories.counts import Counts
    >>> ages = [4.0, 6.0, 7.0, 9.0, 9.5]
    >>> table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 2.0})
    >>> curve = weibull(Counts(table, unit="years", what="seal", rule="as watched"))
    >>> failed = share_failed(curve, 5.0, confidence=0.9)
    >>> round(failed.value, 3), round(failed.lower, 3), round(failed.upper, 3)
    (0.141, 0.042, 0.333)
    """
    return chance_within(curve, age=0.0, horizon=age, confidence=confidence, method=method)


def chance_within(
    curve: WeibullCurve,
    *,
    age: float,
    horizon: float,
    confidence: float,
    method: Method = "profile",
) -> Estimate:
    """Chance that a part running at `age` fails within the horizon: 1 - S(age + horizon)/S(age).

    >>> from wornby.curves.parametric import weibull
    >>> from wornby.histories.counts import Counts
    >>> ages = [4.0, 6.0, 7.0, 9.0, 9.5]
    >>> table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 2.0})
    >>> curve = weibull(Counts(table, unit="years", what="seal", rule="as watched"))
    >>> chance = chance_within(curve, age=6.0, horizon=1.0, confidence=0.9)
    >>> round(chance.value, 3), round(chance.lower, 3), round(chance.upper, 3)
    (0.255, 0.153, 0.379)
    """
    if not (0 <= age < np.inf and 0 < horizon < np.inf):
        raise ValueError(f"age {age}, horizon {horizon}: wanted age 0 or more, horizon above 0")
    end, centre = age + horizon, evidence(curve.counts).centre
    asked = (
        log_hazard_within(curve, age=age, horizon=horizon, centre=centre)
        if age
        else log_hazard_by(curve, np.array([end]), centre=centre)
    )
    note = past_longest_watch(curve.counts, end)
    return estimate(
        curve, asked, chance, confidence=confidence, method=method, unit="chance", note=note
    )


def survival_band(
    curve: WeibullCurve, ages: ArrayLike, *, confidence: float, method: Method = "profile"
) -> pl.DataFrame:
    """Survival at each age with pointwise limits: age, survival, lower, upper.

    >>> from wornby.curves.parametric import weibull
    >>> from wornby.histories.counts import Counts
    >>> ages = [4.0, 6.0, 7.0, 9.0, 9.5]
    >>> table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 2.0})
    >>> curve = weibull(Counts(table, unit="years", what="seal", rule="as watched"))
    >>> band = survival_band(curve, [5.0, 8.0], confidence=0.9)
    >>> band.select(pl.exclude("age").round(2)).row(0)
    (0.86, 0.67, 0.96)
    """
    at = np.asarray(ages, dtype=np.float64)
    known = evidence(curve.counts)
    asked = log_hazard_by(curve, at, centre=known.centre)
    low, high = interval(curve, asked, confidence=confidence, method=method)
    return pl.DataFrame(
        {
            "age": at,
            "survival": curve.survival(at),
            "lower": 1 - chance(high),
            "upper": 1 - chance(low),
        }
    )
