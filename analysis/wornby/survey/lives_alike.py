"""Do several groups tell of one life? Workshop and club, or a club's versions."""

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl
from scipy.stats import chi2

from wornby.curves.parametric import WeibullCurve, weibull
from wornby.histories.counts import Counts
from wornby.tables import COUNTS

SHAPE_AND_SCALE = 2


@dataclass(frozen=True, eq=False, slots=True)
class OneLife:
    """The Weibull of all groups together, tested against one for each.

    `statistic` is twice the log-likelihood that a curve for each gains over one for all, `p_value`
    that of chi-square with two degrees of freedom for each group but the first.
    """

    together: WeibullCurve
    statistic: float
    p_value: float


def one_life(curves: Sequence[WeibullCurve]) -> OneLife:
    """Test by the likelihood ratio whether one Weibull fits all groups (Wilks 1938).

    Answers to a survey come scaled to their effective number: Rao & Scott's first-order correction
    (1984) with Kish's factor (1965) in the place of the mean design effect. ValueError: fewer than
    two groups, or units that differ.

    >>> def curve(ages: list[float]) -> WeibullCurve:
    ...     table = pl.DataFrame({"entry": 0.0, "lower": ages, "upper": ages, "count": 1.0})
    ...     return weibull(Counts(table, unit="years", what="water pump", rule="as watched"))
    >>> early, late = curve([4.0, 5.0, 6.0, 7.0, 9.0]), curve([9.0, 11.0, 12.0, 14.0, 15.0])
    >>> one_life([early, curve([4.5, 5.5, 6.5, 7.5, 8.0])]).p_value > 0.1
    True
    >>> one_life([early, late]).p_value < 0.01
    True
    """
    counts = [curve.counts for curve in curves]
    units = dict.fromkeys(of.unit for of in counts)
    if len(counts) < 2 or len(units) > 1:
        raise ValueError(
            f"{len(counts)} groups in {' and '.join(units)}: wanted two or more in one unit"
        )
    together = weibull(lives_together(counts))
    gain = 2 * (sum(curve.log_likelihood for curve in curves) - together.log_likelihood)
    degrees = SHAPE_AND_SCALE * (len(counts) - 1)
    return OneLife(together, gain, float(chi2.sf(max(gain, 0.0), degrees)))


def lives_together(groups: Sequence[Counts]) -> Counts:
    """All lives of all groups."""
    return Counts(
        pl.concat(COUNTS.shape(counts.table) for counts in groups),
        groups[0].unit,
        ", and ".join(dict.fromkeys(counts.what for counts in groups)),
        "; ".join(dict.fromkeys(counts.rule for counts in groups)),
    )
