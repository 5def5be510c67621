"""How long a part lasts when it is renewed at an age, and what that costs a year."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gamma, gammainc

from wornby.curves.uncertainty import WeibullDraws
from wornby.errors import EstimateError

CELLS = 1200
NODES, WEIGHTS = np.polynomial.legendre.leggauss(5)
LARGEST_LOG_HAZARD = 700.0


class Curve(Protocol):
    """Anything that can say which share still runs at each age: one curve, or draws in rows."""

    def survival(self, age: ArrayLike, /) -> NDArray[np.float64]:
        """Chance of still running at the given ages."""
        ...


@dataclass(frozen=True, eq=False, slots=True)
class MeanService:
    """The expected length of service up to each age of a fine grid, for any curve.

    `lengths` is the integral of survival from 0 to `ages`, for draws one row each, by
    Gauss-Legendre in cells that widen with age; at the last age less than 1 in 10^12 still runs.
    """

    curve: Curve
    ages: NDArray[np.float64]
    lengths: NDArray[np.float64]

    def length(self, age: ArrayLike) -> NDArray[np.float64]:
        """Years of service expected from a part that is renewed at `age` at the latest."""
        at = np.atleast_1d(np.asarray(age, dtype=np.float64))
        cell = np.clip(np.searchsorted(self.ages, at, side="right") - 1, 0, None)
        return np.asarray(self.lengths[..., cell] + integral(self.curve, self.ages[cell], at))

    def cost_rate(self, age: ArrayLike, *, planned: float, failure: float) -> NDArray[np.float64]:
        """Cost a year in the long run when renewing at `age` (Barlow & Hunter 1960)."""
        survival = self.curve.survival(np.atleast_1d(np.asarray(age, dtype=np.float64)))
        return (planned * survival + failure * (1 - survival)) / self.length(age)

    @property
    def mean_life(self) -> NDArray[np.float64]:
        """Expected life of a part that is never renewed before it fails."""
        return np.asarray(self.lengths[..., -1])


def mean_service(curve: Curve) -> MeanService:
    """Integrate a curve once; a curve that levels off has no mean life and is refused."""
    ages = np.insert(np.geomspace(*_first_and_last_age(curve), CELLS), 0, 0.0)
    steps = integral(curve, ages[:-1], ages[1:])
    lengths = np.insert(np.cumsum(steps, axis=-1), 0, 0.0, axis=-1)
    return MeanService(curve, ages, lengths)


def rows_of(curve: Curve, ages: NDArray[np.float64]) -> NDArray[np.float64]:
    """Survival at each age: one row a draw, a single curve being one draw."""
    survival = np.atleast_2d(curve.survival(ages))
    if survival.ndim != 2 or survival.shape[1] != ages.size:
        raise ValueError(
            f"survival of {ages.size} ages came in the shape {survival.shape}, "
            "wanted a row a draw and a column an age"
        )
    return survival


def integral(
    curve: Curve, start: NDArray[np.float64], end: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Area under survival from each start to its end."""
    half = (end - start) / 2
    nodes = start[:, None] + half[:, None] * (1 + NODES)
    survival = curve.survival(nodes.ravel())
    return np.asarray(half * (survival.reshape(*survival.shape[:-1], *nodes.shape) @ WEIGHTS))


def _first_and_last_age(curve: Curve) -> tuple[float, float]:
    """A millionth of the least median of all draws, and an age that next to nothing reaches."""
    doubled = np.exp2(np.arange(-30.0, 60.0))
    survival = rows_of(curve, doubled)
    reached = np.flatnonzero(survival.max(axis=0) < 1e-12)
    if not reached.size:
        raise EstimateError(
            f"the curve levels off at {survival[:, -1].max():.3g} and never reaches zero: "
            "no mean life, so no cost a year in the long run"
        )
    median = doubled[np.argmax(survival.min(axis=0) < 0.5)]
    return 1e-6 * float(median), float(doubled[reached[0]])


def weibull_cost_rate(
    draws: WeibullDraws, age: ArrayLike, *, planned: float, failure: float
) -> NDArray[np.float64]:
    """Cost a year under each draw when renewing at `age`: one row a draw, one column an age.

    The length of service is scale x gamma(1 + 1/shape) x P(1/shape, (age/scale)^shape), with P
    the regularised incomplete gamma function.
    """
    at = np.atleast_1d(np.asarray(age, dtype=np.float64))
    log_hazard = draws.shape[:, None] * np.log(at[None, :] / draws.scale[:, None])
    hazard = np.exp(np.minimum(log_hazard, LARGEST_LOG_HAZARD))
    length = weibull_mean_life(draws)[:, None] * gammainc(1 / draws.shape[:, None], hazard)
    survival = np.exp(-hazard)
    return np.asarray((planned * survival + failure * (1 - survival)) / length)


def weibull_mean_life(draws: WeibullDraws) -> NDArray[np.float64]:
    """Expected life under each draw."""
    return np.asarray(draws.scale * gamma(1 + 1 / draws.shape))


def best_weibull_ages(draws: WeibullDraws, *, cost_ratio: float) -> NDArray[np.float64]:
    """The best age under each draw, infinite where running to failure is best.

    At the optimum (r - 1)(hazard x length - share failed) = 1, with r the cost of a failure
    over that of a planned renewal (Barlow & Hunter 1960); in units of the scale it depends on
    the shape only, so all draws are bisected together.
    """
    shape = draws.shape
    low, high = np.full(shape.shape, -14.0), np.log(50.0) / shape
    for _ in range(52):
        middle = (low + high) / 2
        too_low = _gain(np.exp(middle), shape, cost_ratio) < 1
        low, high = np.where(too_low, middle, low), np.where(too_low, high, middle)
    never = (shape <= 1) | (_gain(50.0 ** (1 / shape), shape, cost_ratio) < 1)
    return np.where(never, np.inf, draws.scale * np.exp(high))


def _gain(
    age: NDArray[np.float64], shape: NDArray[np.float64], cost_ratio: float
) -> NDArray[np.float64]:
    hazard = age**shape
    length = gamma(1 + 1 / shape) * gammainc(1 / shape, hazard)
    return np.asarray((cost_ratio - 1) * (shape * hazard / age * length + np.expm1(-hazard)))


def check_draws(draws: WeibullDraws, what: str) -> None:
    """Refuse draws that no curve can have, or that do not run on years."""
    if draws.unit != "years":
        raise ValueError(f"{what}: the draws run on {draws.unit}, wanted years")
    if draws.shape.shape != draws.scale.shape or not draws.shape.size:
        raise ValueError(
            f"{what}: {draws.shape.size} shapes and {draws.scale.size} scales, wanted one of each"
        )
    for name, values in (("shape", draws.shape), ("scale", draws.scale)):
        if not (np.isfinite(values).all() and (values > 0).all()):
            raise ValueError(f"{what}: a {name} of {values.min()}, wanted finite and above 0")
