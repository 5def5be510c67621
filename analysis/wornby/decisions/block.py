"""How many failures to expect of a part renewed at each failure, and renewal by the calendar."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline

from wornby.decisions.costs import check_amounts
from wornby.decisions.least_cost_age import UncertainRenewalAdvice, least_cost_advice
from wornby.decisions.long_run import Curve, mean_service, rows_of
from wornby.decisions.renewal_age import FLAT_SHARE
from wornby.errors import EstimateError

MEAN_LIVES_SEARCHED = 3.0
MOST_BY_HALF_A_STEP = 0.75
"""Share failed by half a step from which the recursion loses its digits."""
FINER = (1, 4)
"""How many times as many steps a draw gets whose lives are short beside a step."""


def renewal_function(curve: Curve, age: ArrayLike, *, steps: int = 1000) -> NDArray[np.float64]:
    """Failures expected by each age of a position whose part is renewed at each failure.

    For draws of the curve, one row each. M(t) = F(t) + integral of M(t - x) dF(x), by
    the midpoint Riemann-Stieltjes recursion (Xie 1989) at `steps` and twice as many steps,
    extrapolated. The power series for the Weibull loses all digits at high shapes; this does not.
    EstimateError where lives are too short beside the oldest age asked.
    """
    at = np.atleast_1d(np.asarray(age, dtype=np.float64))
    until = float(at.max())
    if until <= 0 or at.min() < 0:
        raise ValueError(f"renewal function: ages {at.min()} to {until}, wanted from 0 up")
    failures = _failures_by(curve, until, steps)(at)
    return np.asarray(failures if curve.survival(at).ndim == 2 else failures[0])


def block_replacement(
    curve: Curve,
    *,
    planned_cost: float,
    failure_cost: float,
    flat_share: float = FLAT_SHARE,
    confidence: float = 0.95,
    steps: int = 1000,
) -> UncertainRenewalAdvice:
    """The calendar interval with the least cost a year, failures renewed in between.

    The rate is (planned + failure x M(T)) / T with M the renewal function (Barlow & Proschan
    1965), averaged over draws; intervals up to three times the longest mean life of a draw are
    searched. It never costs less than age replacement, which spares parts just renewed; it needs
    no record of their age. EstimateError where the draws' lives are too unlike to be counted on
    one calendar.

    >>> from wornby.curves.uncertainty import WeibullDraws
    >>> advice = block_replacement(
    ...     WeibullDraws(np.array([3.0]), np.array([10.0]), "years"),
    ...     planned_cost=1.0, failure_cost=5.0,
    ... ).advice
    >>> round(advice.age_years, 2), round(advice.cost_rate, 3)
    (4.84, 0.318)
    """
    check_amounts("block replacement", planned_cost=planned_cost, failure_cost=failure_cost)
    if min(planned_cost, failure_cost) == 0:
        raise ValueError(
            f"block replacement: planned_cost {planned_cost} and failure_cost {failure_cost}, "
            "wanted both above 0"
        )
    mean_life = np.atleast_1d(mean_service(curve).mean_life)
    last = MEAN_LIVES_SEARCHED * float(np.quantile(mean_life, 0.9))
    failures = _failures_by(curve, last, steps)

    def rates(interval: ArrayLike) -> NDArray[np.float64]:
        at = np.atleast_1d(np.asarray(interval, dtype=np.float64))
        return np.asarray((planned_cost + failure_cost * failures(at)) / at)

    return least_cost_advice(
        rates,
        np.linspace(0, last, steps + 1)[1:],
        run_to_failure=failure_cost / mean_life,
        costs=(planned_cost, failure_cost),
        flat_share=flat_share,
        confidence=confidence,
    )


def _failures_by(curve: Curve, until: float, steps: int) -> CubicSpline:
    grid = np.linspace(0, until, steps + 1)
    by_half = [1 - rows_of(curve, np.array([until / (2 * steps * k)]))[:, 0] for k in FINER]
    if (by_half[-1] > MOST_BY_HALF_A_STEP).any():
        raise EstimateError(
            f"of the lives that the records leave open some end within {grid[1]:.2g} of "
            f"{until:,.4g} years: too unlike to count failures by the calendar"
        )
    expected = np.zeros((by_half[0].size, steps + 1))
    pending = np.ones(by_half[0].size, dtype=bool)
    for finer, failed in zip(FINER, by_half, strict=True):
        now = np.flatnonzero(pending & (failed <= MOST_BY_HALF_A_STEP))
        if now.size:
            coarse = _recursion(curve, now, grid, finer=finer)
            fine = _recursion(curve, now, grid, finer=2 * finer)
            expected[now] = fine + (fine - coarse) / 3
        pending[now] = False
    return CubicSpline(grid, expected, axis=1)


def _recursion(
    curve: Curve, draws: NDArray[np.intp], grid: NDArray[np.float64], *, finer: int
) -> NDArray[np.float64]:
    """Failures expected at each age of the grid, in so many steps from one to the next."""
    steps = finer * (grid.size - 1)
    width = grid[-1] / steps
    failed = 1 - rows_of(curve, np.linspace(0, grid[-1], steps + 1))[draws]
    middle = 1 - rows_of(curve, (np.arange(steps) + 0.5) * width)[draws]
    expected = np.zeros((len(failed), steps + 1))
    rises = np.zeros((len(failed), steps))
    backward = middle[:, ::-1].copy()
    for i in range(1, steps + 1):
        carried = np.einsum("ij,ij->i", rises[:, : i - 1], backward[:, steps - i : steps - 1])
        carried -= expected[:, i - 1] * middle[:, 0]
        expected[:, i] = (failed[:, i] + carried) / (1 - middle[:, 0])
        rises[:, i - 1] = expected[:, i] - expected[:, i - 1]
    return expected[:, ::finer]
