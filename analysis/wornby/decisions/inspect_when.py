"""How often to look at a part that shows before it fails, and what each way of looking catches.

The delay time runs from when a defect could first be seen to the failure it leads to (Christer &
Waller 1984). Defects come at any moment alike; an inspection sees one that is there with the
chance `detection`, each time anew.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq, minimize_scalar
from scipy.special import gammainc

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs import check_amounts
from wornby.decisions.long_run import check_draws, weibull_mean_life

Floats = NDArray[np.float64]

NO_INTERVAL_PAYS = "no interval costs less than waiting for failures"


class Delay(Protocol):
    """A delay time, known by its expected length up to a limit; `MeanService` is one."""

    def length(self, age: ArrayLike, /) -> Floats:
        """Expected delay when it is cut off at each of the given lengths."""
        ...


@dataclass(frozen=True, slots=True)
class FixedDelay:
    """Every defect leads to failure after the same time (the P-F interval)."""

    years: float

    def length(self, age: ArrayLike) -> Floats:
        """The delay or the limit, whichever is less."""
        return np.minimum(np.asarray(age, dtype=np.float64), self.years)


@dataclass(frozen=True, slots=True)
class ExponentialDelay:
    """A delay of a known mean that does not depend on how long the defect has shown."""

    mean_years: float

    def length(self, age: ArrayLike) -> Floats:
        """Mean times the chance of having failed by the limit."""
        at = np.asarray(age, dtype=np.float64)
        return np.asarray(-self.mean_years * np.expm1(-at / self.mean_years))


@dataclass(frozen=True, slots=True)
class InspectionCosts:
    """What looking costs, what a failure costs, and what a defect costs that is caught in time.

    `out_of_use_years` is how long one inspection keeps the vehicle from use.
    """

    inspection_net: float
    failure_net: float
    caught_net: float
    out_of_use_years: float

    def __post_init__(self) -> None:
        """Refuse what no inspection can cost."""
        check_amounts(
            "inspection",
            inspection_net=self.inspection_net,
            failure_net=self.failure_net,
            caught_net=self.caught_net,
            out_of_use_years=self.out_of_use_years,
        )


@dataclass(frozen=True, eq=False, slots=True)
class InspectionAdvice:
    """Look every `interval_years` (infinite: do not look, for `reason`), against not looking.

    Rates are net money a year. `table` has interval_years, catch_share and cost_per_year_net.
    """

    interval_years: float
    cost_rate: float
    never_rate: float
    catch_share: float
    reason: str
    table: pl.DataFrame

    @property
    def saving(self) -> float:
        """Share of the cost of not looking that the advice saves."""
        return 1 - self.cost_rate / self.never_rate


def catch_share(delay: Delay, *, interval_years: float, detection: float) -> float:
    """Share of defects that inspections see before the part fails.

    >>> round(catch_share(FixedDelay(3.0), interval_years=2.0, detection=0.8), 4)
    0.88
    """
    _check(interval_years, detection)
    limits, weight = _looks(interval_years, detection)
    return float(weight @ np.diff(delay.length(limits)))


def inspection_cost_rate(
    delay: Delay,
    *,
    interval_years: float,
    detection: float,
    defects_per_year: float,
    costs: InspectionCosts,
) -> float:
    """Cost a year of looking at a given interval (Christer & Waller 1984, in money)."""
    caught = catch_share(delay, interval_years=interval_years, detection=detection)
    per_defect = costs.failure_net * (1 - caught) + costs.caught_net * caught
    cost = costs.inspection_net + defects_per_year * interval_years * per_defect
    return cost / (interval_years + costs.out_of_use_years)


def inspection_interval(
    delay: Delay, *, detection: float, defects_per_year: float, costs: InspectionCosts
) -> InspectionAdvice:
    """The interval with the least cost a year, or the advice not to look."""
    mean_delay = float(np.max(delay.length(np.array([1e6]))))

    def rate(interval: float) -> float:
        return inspection_cost_rate(
            delay,
            interval_years=interval,
            detection=detection,
            defects_per_year=defects_per_year,
            costs=costs,
        )

    grid = mean_delay * np.geomspace(1e-3, 1e3, 121)
    rates = np.array([rate(float(interval)) for interval in grid])
    at = int(rates.argmin())
    bracket = grid[max(at - 1, 0)], grid[min(at + 1, len(grid) - 1)]
    found = minimize_scalar(
        rate, bounds=bracket, method="bounded", options={"xatol": 1e-9 * bracket[1]}
    )
    never = defects_per_year * costs.failure_net
    pays = found.fun < never * (1 - 1e-9)
    best = float(found.x) if pays else math.inf
    shares = [catch_share(delay, interval_years=float(t), detection=detection) for t in grid]
    return InspectionAdvice(
        interval_years=best,
        cost_rate=float(found.fun) if pays else never,
        never_rate=never,
        catch_share=catch_share(delay, interval_years=best, detection=detection) if pays else 0.0,
        reason="" if pays else NO_INTERVAL_PAYS,
        table=pl.DataFrame(
            {"interval_years": grid, "catch_share": shares, "cost_per_year_net": rates}
        ),
    )


def longest_interval(delay: Delay, *, share: float, detection: float) -> float:
    """The longest interval at which inspections still catch the wanted share."""
    _check(1.0, detection)
    if not 0 < share < 1:
        raise ValueError(f"inspection: share is {share}, wanted between 0 and 1")
    mean_delay = float(np.max(delay.length(np.array([1e6]))))

    def short(log_interval: float) -> float:
        interval = mean_delay * math.exp(log_interval)
        return catch_share(delay, interval_years=interval, detection=detection) - share

    return mean_delay * math.exp(brentq(short, -20.0, 20.0))


def methods_table(
    delay: WeibullDraws,
    methods: Mapping[str, float],
    intervals_years: Sequence[float],
    *,
    confidence: float = 0.90,
) -> pl.DataFrame:
    """What each way of looking would catch at each interval, with what is open of the delay.

    `methods` says with what chance each sees a defect that is there (on the ground, on the ramp,
    undertray off). Columns: method, detection, interval_years, catch_share, its lower and
    upper limit.
    """
    check_draws(delay, "delay time")
    rows = []
    for (method, detection), interval in [(m, t) for m in methods.items() for t in intervals_years]:
        _check(interval, detection)
        limits, weight = _looks(interval, detection)
        hazard = (limits / delay.scale[:, None]) ** delay.shape[:, None]
        length = weibull_mean_life(delay)[:, None] * _ended(delay, hazard)
        caught = np.diff(length, axis=1) @ weight
        lower, upper = np.quantile(caught, [(1 - confidence) / 2, (1 + confidence) / 2])
        rows.append((method, detection, interval, caught.mean(), lower, upper))
    names = ("catch_share", "catch_share_lower", "catch_share_upper")
    return pl.DataFrame(
        rows, schema=["method", "detection", "interval_years", *names], orient="row"
    )


def _ended(delay: WeibullDraws, hazard: Floats) -> Floats:
    """The share of the mean delay spent by a cumulative hazard; quickly where delays do not age."""
    if (delay.shape == 1).all():
        return np.asarray(-np.expm1(-hazard))
    return np.asarray(gammainc(1 / delay.shape[:, None], hazard))


def _looks(interval_years: float, detection: float) -> tuple[Floats, Floats]:
    """Delays that reach the first look, the second, ..., and the chance that it is that one.

    A defect comes at any moment between two looks alike, so its delay outlasts the jth look
    with the mean of survival over the jth interval.
    """
    n = 1 if detection == 1 else math.ceil(math.log(1e-14) / math.log1p(-detection))
    look = np.arange(n + 1, dtype=np.float64)
    weight = detection * (1 - detection) ** look[:-1] / interval_years
    return look * interval_years, weight


def _check(interval_years: float, detection: float) -> None:
    if not math.isfinite(interval_years) or interval_years <= 0:
        raise ValueError(f"inspection: interval_years is {interval_years}, wanted above 0")
    if not 0 < detection <= 1:
        raise ValueError(f"inspection: detection is {detection}, wanted above 0 and at most 1")
