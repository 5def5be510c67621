"""Groups against one another in plain units, and pairwise with their errors held together."""

from collections.abc import Mapping
from itertools import combinations

import numpy as np
import polars as pl
from scipy.stats import norm

from wornby.curves.bands import check_confidence, normal_root
from wornby.curves.groups import check_groups, log_rank
from wornby.curves.nonparametric import SurvivalCurve, kaplan_meier
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import Counts


def holm(p_values: list[float]) -> list[float]:
    """P-values raised so that any false alarm among them all keeps its rate (Holm 1979).

    >>> [round(p, 2) for p in holm([0.04, 0.01, 0.03, 0.02])]
    [0.06, 0.04, 0.06, 0.06]
    """
    order = np.argsort(p_values)
    raised = np.array(p_values)[order] * np.arange(len(p_values), 0, -1)
    held = np.minimum(np.maximum.accumulate(raised), 1.0)
    back = np.empty(len(p_values))
    back[order] = held
    return [float(p) for p in back]


def pairwise_log_rank(groups: Mapping[str, Counts]) -> pl.DataFrame:
    """Each pair of groups tested, with Holm's adjustment: first, second, p_value, adjusted, reason.

    A pair that cannot be compared has empty numbers and a reason, and does not count. Refuses as
    `check_groups` does.

    >>> def grade(ages: list[float]) -> Counts:
    ...     table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 1.0})
    ...     return Counts(table, unit="years", what="water pump", rule="as watched")
    >>> groups = {"genuine": grade([5.0, 7.0, 9.0]), "cheap": grade([1.0, 2.0, 6.0])}
    >>> pairwise_log_rank(groups)["adjusted"].round(3).to_list()
    [0.11]
    """
    check_groups(groups)
    rows: list[tuple[str, str, float | None, str]] = []
    for first, second in combinations(groups, 2):
        try:
            tested = log_rank({first: groups[first], second: groups[second]})
            rows.append((first, second, tested.p_value, ""))
        except EstimateError as refused:
            rows.append((first, second, None, str(refused)))
    known = [p for _, _, p, _ in rows if p is not None]
    adjusted = iter(holm(known))
    told = [(a, b, p, next(adjusted) if p is not None else None, why) for a, b, p, why in rows]
    names = {"p_value": pl.Float64, "adjusted": pl.Float64, "reason": pl.String}
    schema = {"first": pl.String, "second": pl.String, **names}
    return pl.DataFrame(told, schema=schema, orient="row")


def known(one: Estimate) -> tuple[float, float]:
    """The value and standard error of an estimate with Wald limits.

    EstimateError where it is out of reach.
    """
    if one.value is None or one.upper is None:
        raise EstimateError(f"no estimate to compare: {one.note}")
    return one.value, (one.upper - one.value) / normal_root(one.confidence)


def difference(first: Estimate, second: Estimate, *, note: str) -> tuple[Estimate, float]:
    """First less second from two independent estimates with Wald limits, and its p-value."""
    (value, std_err), (other, other_std_err) = known(first), known(second)
    gap, spread = value - other, float(np.hypot(std_err, other_std_err))
    reach = normal_root(first.confidence) * spread
    p_value = float(2 * norm.sf(abs(gap) / spread)) if spread else float(gap == 0)
    confidence = first.confidence
    return Estimate(gap, gap - reach, gap + reach, confidence, first.unit, note), p_value


def both_curves(
    groups: Mapping[str, Counts], *, confidence: float
) -> tuple[tuple[str, SurvivalCurve], tuple[str, SurvivalCurve]]:
    """Kaplan-Meier of each of two groups, both from the later of their beginnings.

    ValueError: not two groups, or a confidence that is none. EstimateError as `check_exact`.
    """
    check_confidence(confidence)
    check_groups(groups)
    if len(groups) != 2:
        raise ValueError(f"groups {', '.join(groups)}: wanted two")
    curves = [kaplan_meier(c, confidence=confidence) for c in groups.values()]
    begins_at = max(curve.begins_at for curve in curves)
    first, second = (
        (name, kaplan_meier(counts, confidence=confidence, begins_at=begins_at))
        for name, counts in groups.items()
    )
    return first, second


def mean_life_difference(
    groups: Mapping[str, Counts], *, until: float, confidence: float
) -> tuple[Estimate, float]:
    """By how much longer the first group lasts on average up to an age, and the p-value.

    The difference in restricted mean life (Royston & Parmar 2013), in the groups' own unit, by
    independent Wald errors. Refuses as `check_groups` does; ValueError: not two groups.

    >>> def grade(ages: list[float]) -> Counts:
    ...     table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 1.0})
    ...     return Counts(table, unit="years", what="water pump", rule="as watched")
    >>> groups = {"genuine": grade([5.0, 7.0, 9.0]), "cheap": grade([1.0, 2.0, 6.0])}
    >>> longer, p_value = mean_life_difference(groups, until=6.0, confidence=0.9)
    >>> round(longer.value, 2), longer.note
    (2.67, 'genuine less cheap, mean life up to 6 years')
    """
    (first, a), (second, b) = both_curves(groups, confidence=confidence)
    means = a.restricted_mean(until), b.restricted_mean(until)
    beyond = " ".join(sorted({m.note for m in means if m.note}))
    note = f"{first} less {second}, mean life up to {until:g} {a.counts.unit}"
    return difference(*means, note=f"{note}; {beyond}" if beyond else note)


def share_failed_at(curve: SurvivalCurve, age: float) -> Estimate:
    """Share failed by an age with Greenwood's Wald limits, for differences."""
    steps = curve.table.filter(pl.col("age") <= age).drop_nulls()
    std_err = float(steps["std_err"][-1]) if steps.height else 0.0
    share = float(1 - curve.survival(age))
    reach = normal_root(curve.confidence) * std_err
    return Estimate(share, share - reach, share + reach, curve.confidence, "share")


def share_failed_difference(
    groups: Mapping[str, Counts], *, age: float, confidence: float
) -> tuple[Estimate, float]:
    """By how much more of the first group has failed by an age, and the p-value.

    By Greenwood's errors, as if the groups were independent. EstimateError: nobody of a group
    watched at that age, and as `check_groups`; ValueError: not two groups.

    >>> def grade(ages: list[float]) -> Counts:
    ...     table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 1.0})
    ...     return Counts(table, unit="years", what="water pump", rule="as watched")
    >>> groups = {"genuine": grade([5.0, 7.0, 9.0]), "cheap": grade([1.0, 2.0, 6.0])}
    >>> more, p_value = share_failed_difference(groups, age=5.0, confidence=0.9)
    >>> round(more.value, 2)
    -0.33
    """
    (first, a), (second, b) = both_curves(groups, confidence=confidence)
    for name, curve in ((first, a), (second, b)):
        if not curve.at_risk(age)[0]:
            raise EstimateError(f"{name}: nobody watched at {age:g} {curve.counts.unit}")
    shares = share_failed_at(a, age), share_failed_at(b, age)
    return difference(*shares, note=f"{first} less {second}, failed by {age:g} {a.counts.unit}")
