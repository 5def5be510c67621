"""How often to look, by each way of looking, with what the records leave open of the delay."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wornby.curves.uncertainty import Estimate, WeibullDraws
from wornby.decisions.inspect_when import (
    ExponentialDelay,
    InspectionAdvice,
    InspectionCosts,
    inspection_interval,
    longest_interval,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class DrawnDelay:
    """A delay whose mean is known only as draws; what it gives is the mean over them."""

    mean_years: Floats

    def length(self, age: ArrayLike) -> Floats:
        """Expected delay when it is cut off at each of the given lengths."""
        at = np.atleast_1d(np.asarray(age, dtype=np.float64))
        means = self.mean_years[:, None]
        return np.asarray((-means * np.expm1(-at / means)).mean(axis=0))


@dataclass(frozen=True, eq=False, slots=True)
class LookPlan:
    """One way of looking at one component: how often for a wanted share, how often for money.

    `for_share` is the interval that catches `share` of the defects before they fail; `cheapest`
    the interval of least cost, against waiting for failures. `pays_probability` is the share
    of the draws under which looking at the cheapest interval costs less than waiting: 0 where
    waiting is advised.
    """

    component: str
    way: str
    detection: float
    share: float
    for_share: Estimate
    cheapest: InspectionAdvice
    pays_probability: float


def look_plan(
    delay: WeibullDraws,
    *,
    component: str,
    way: str,
    detection: float,
    share: float,
    defects_per_year: float,
    costs: InspectionCosts,
    confidence: float,
) -> LookPlan:
    """Plan looks at one component by one way, for exponential delays of drawn means.

    Costs are those of the mean over the draws; catching scales with the mean delay, so the
    interval for a share is the same number of mean delays under each draw.
    """
    if not (delay.shape == 1).all():
        raise ValueError(f"{component}: a delay of shape {delay.shape[0]:g}, wanted 1")
    thinned = delay.scale[:: max(1, delay.scale.size // 200)]
    of_unit = longest_interval(ExponentialDelay(1.0), share=share, detection=detection)
    tail = (1 - confidence) / 2
    low, value, high = np.quantile(of_unit * delay.scale, [tail, 0.5, 1 - tail])
    advice = inspection_interval(
        DrawnDelay(thinned), detection=detection, defects_per_year=defects_per_year, costs=costs
    )
    return LookPlan(
        component=component,
        way=way,
        detection=detection,
        share=share,
        for_share=Estimate(float(value), float(low), float(high), confidence, "years"),
        cheapest=advice,
        pays_probability=_pays(advice, delay, detection, defects_per_year, costs),
    )


def caught_each(delay: WeibullDraws, *, interval_years: float, detection: float) -> Floats:
    """Share of defects caught under each draw of an exponential delay.

    With w = exp(-T/d) it is detection x (d/T)(1 - w) / (1 - (1 - detection) w): the looks a
    defect outlasts form a geometric series.

    >>> half_a_year = WeibullDraws(np.ones(1), np.array([0.5]), "years")
    >>> caught_each(half_a_year, interval_years=1.0, detection=0.5).round(3).tolist()
    [0.232]
    """
    in_delays = interval_years / delay.scale
    left = np.exp(-in_delays)
    first = -np.expm1(-in_delays) / in_delays
    return np.asarray(detection * first / (1 - (1 - detection) * left))


def _pays(
    advice: InspectionAdvice,
    delay: WeibullDraws,
    detection: float,
    defects_per_year: float,
    costs: InspectionCosts,
) -> float:
    if not np.isfinite(advice.interval_years):
        return 0.0
    caught = caught_each(delay, interval_years=advice.interval_years, detection=detection)
    saved = defects_per_year * caught * (costs.failure_net - costs.caught_net)
    return float((saved > costs.inspection_net / advice.interval_years).mean())
