"""How many failures to expect of a part renewed at each failure, and renewal by the calendar."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline
from scipy.optimize import minimize_scalar

from wornby.decisions.costs import check_amounts
from wornby.decisions.long_run import Curve, mean_service, survival_of


@dataclass(frozen=True, slots=True)
class BlockAdvice:
    """Renew every `interval_years` whatever happened since (infinite: run to failure)."""

    interval_years: float
    cost_rate: float
    run_to_failure_rate: float
    searched_to_years: float
    planned_cost: float
    failure_cost: float

    @property
    def saving(self) -> float:
        """Share of the run-to-failure cost that the advice saves."""
        return 1 - self.cost_rate / self.run_to_failure_rate


def renewal_function(curve: Curve, age: ArrayLike, *, steps: int = 1000) -> NDArray[np.float64]:
    """Failures expected by each age of a position whose part is renewed at each failure.

    M(t) = F(t) + integral of M(t - x) dF(x), by the midpoint Riemann-Stieltjes recursion (Xie
    1989) at `steps` and twice as many steps, extrapolated. The power series for the Weibull
    loses all digits at high shapes; this does not.
    """
    at = np.atleast_1d(np.asarray(age, dtype=np.float64))
    until = float(at.max())
    if until <= 0 or at.min() < 0:
        raise ValueError(f"renewal function: ages {at.min()} to {until}, wanted from 0 up")
    coarse, fine = _recursion(curve, until, steps), _recursion(curve, until, 2 * steps)[::2]
    grid = np.linspace(0, until, steps + 1)
    return np.asarray(CubicSpline(grid, fine + (fine - coarse) / 3)(at))


def block_replacement(curve: Curve, *, planned_cost: float, failure_cost: float) -> BlockAdvice:
    """The calendar interval with the least cost a year, failures renewed in between.

    The rate is (planned + failure x M(T)) / T with M the renewal function (Barlow & Proschan
    1965); intervals up to four mean lives are searched.
    """
    check_amounts("block replacement", planned_cost=planned_cost, failure_cost=failure_cost)
    mean_life = mean_service(curve).mean_life
    grid = np.linspace(0, 4 * mean_life, 2001)
    failures = CubicSpline(grid, renewal_function(curve, grid, steps=2000))

    def rate(interval: float) -> float:
        return (planned_cost + failure_cost * float(failures(interval))) / interval

    best = 1 + int(np.argmin([rate(interval) for interval in grid[1:]]))
    bracket = grid[best - 1], grid[min(best + 1, len(grid) - 1)]
    found = minimize_scalar(rate, bounds=bracket, method="bounded", options={"xatol": 1e-10})
    run_to_failure = failure_cost / mean_life
    pays = float(found.fun) < run_to_failure * (1 - 1e-6)
    return BlockAdvice(
        interval_years=float(found.x) if pays else math.inf,
        cost_rate=float(found.fun) if pays else run_to_failure,
        run_to_failure_rate=run_to_failure,
        searched_to_years=float(grid[-1]),
        planned_cost=planned_cost,
        failure_cost=failure_cost,
    )


def _recursion(curve: Curve, until: float, steps: int) -> NDArray[np.float64]:
    width = until / steps
    failed = 1 - survival_of(curve, np.linspace(0, until, steps + 1))
    middle = 1 - curve.survival((np.arange(steps) + 0.5) * width)
    expected = np.zeros(steps + 1)
    for i in range(1, steps + 1):
        rises = np.diff(expected[:i])
        carried = rises @ middle[i - 1 : 0 : -1] - expected[i - 1] * middle[0]
        expected[i] = (failed[i] + carried) / (1 - middle[0])
    return expected
