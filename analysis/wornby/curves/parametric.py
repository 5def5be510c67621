"""Weibull curves by maximum likelihood under any mix of delayed entry and censoring."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gamma, gammaincc

from wornby.curves.ascent import Summit, climb
from wornby.curves.likelihood import WEIBULL, Family, log_likelihood
from wornby.curves.log_ages import Array, Evidence, evidence
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

FEW = "use the few-failures posterior, which brings a prior for the shape"
SMALLEST_SHAPE, LARGEST_SHAPE = 0.01, 1000.0
LARGEST_LOG_STD_ERR = 5.0


@dataclass(frozen=True, eq=False, slots=True)
class WeibullCurve:
    """A fitted Weibull: survival exp(-(age/scale)^shape).

    `covariance` is that of (log scale, log shape), from the observed information.
    """

    shape: float
    scale: float
    unit: str
    log_likelihood: float
    covariance: Array
    counts: Counts

    def cumulative_hazard(self, age: ArrayLike) -> Array:
        """Minus the logarithm of the chance of still running at each age."""
        return (np.asarray(age, dtype=np.float64) / self.scale) ** self.shape

    def survival(self, age: ArrayLike) -> Array:
        """Chance that a part is still running at each age."""
        return np.exp(-self.cumulative_hazard(age))

    def hazard(self, age: ArrayLike) -> Array:
        """Failures for each unit of age among the parts that reached it."""
        at = np.asarray(age, dtype=np.float64)
        with np.errstate(divide="ignore"):
            return self.shape / self.scale * (at / self.scale) ** (self.shape - 1)

    def chance_within(self, *, age: ArrayLike, horizon: ArrayLike) -> Array:
        """Chance that a part running at `age` fails within the horizon."""
        start = np.asarray(age, dtype=np.float64)
        end = start + np.asarray(horizon, dtype=np.float64)
        return -np.expm1(self.cumulative_hazard(start) - self.cumulative_hazard(end))

    def b_life(self, share: float) -> float:
        """Age by which `share` of the parts, between 0 and 1, have failed; else ValueError."""
        if not 0 < share < 1:
            raise ValueError(f"share {share}: wanted between 0 and 1")
        return float(self.scale * (-np.log1p(-share)) ** (1 / self.shape))

    @property
    def mean(self) -> float:
        """Mean life."""
        return float(self.scale * gamma(1 + 1 / self.shape))

    @property
    def std_dev(self) -> float:
        """Standard deviation of the lives."""
        square = gamma(1 + 2 / self.shape) - gamma(1 + 1 / self.shape) ** 2
        return float(self.scale * np.sqrt(square))

    def mean_remaining(self, age: float) -> float:
        """Mean life left to a part running at `age`."""
        hazard = (age / self.scale) ** self.shape
        return float(self.mean * gammaincc(1 / self.shape, hazard) * np.exp(hazard))


def check_enough(counts: Counts) -> None:
    """Refuse by EstimateError counts that no two-parameter curve can be fitted to."""
    _, lower, upper, _ = counts.columns()
    if not counts.table.height:
        raise EstimateError(f"{counts.what}: no lives to fit a curve to")
    ended = np.isfinite(upper)
    if not ended.any():
        raise EstimateError(f"{counts.what}: no failure among {counts.n_lives:g} lives; {FEW}")
    if (lower == upper)[ended].all() and np.unique(upper[ended]).size == 1:
        raise EstimateError(
            f"{counts.what}: all {counts.n_failures:g} failures at one age,"
            f" {upper[ended][0]:g} {counts.unit}, so nothing tells their spread; {FEW}"
        )


def starting_points() -> Array:
    """A coarse lattice of (intercept, slope) around the middle of the failures."""
    slopes = np.geomspace(0.3, 20, 7)
    places = np.array([-1.0, -0.3, 0.0, 0.3, 0.7, 1.5, 3.0])
    slope, place = (grid.ravel() for grid in np.meshgrid(slopes, places))
    return np.stack([slope * place, slope], axis=-1)


def best_start(family: Family, known: Evidence) -> Array:
    """The lattice point with the highest likelihood, as one row."""
    lattice = starting_points()
    value, _, _ = log_likelihood(family, known, lattice)
    return np.asarray(lattice[np.argmax(value)][None, :])


def fitted(family: Family, known: Evidence, counts: Counts) -> Summit:
    """The maximum of the likelihood; EstimateError where there is none."""
    summit = climb(lambda theta: log_likelihood(family, known, theta), best_start(family, known))
    shape = float(summit.point[0, 1])
    if shape > LARGEST_SHAPE:
        raise EstimateError(
            f"{counts.what}: the {family.name} spread runs away to nothing with"
            f" {counts.n_failures:g} failures; {FEW}"
        )
    if shape < SMALLEST_SHAPE:
        raise EstimateError(
            f"{counts.what}: with {counts.n_failures:g} failures among late entries the"
            f" {family.name} shape runs away to nought; {FEW}"
        )
    if not summit.converged[0]:
        raise EstimateError(f"{counts.what}: the {family.name} fit did not converge; {FEW}")
    return summit


def log_scale_covariance(summit: Summit) -> Array:
    """Covariance of (log scale, log shape) from the information in (intercept, slope)."""
    intercept, slope = summit.point[0]
    jacobian = np.array([[1 / slope, -intercept / slope**2], [0.0, 1 / slope]])
    return np.asarray(jacobian @ np.linalg.inv(-summit.hessian[0]) @ jacobian.T)


def weibull(counts: Counts) -> WeibullCurve:
    """Weibull curve by maximum likelihood; refuses what cannot tell both shape and scale.

    Takes delayed entry, exact failures, lives still in service and failures within bounds,
    each with its count (log-likelihood: Meeker & Escobar 1998, section 7.2 and 11.6). The
    log-likelihood is that of densities for each unit of age. EstimateError where nothing
    failed, all failed at one age, or the likelihood rises without end.

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
    >>> curve = weibull(pumps)
    >>> round(curve.shape, 2), round(curve.scale, 2), round(curve.b_life(0.1), 2)
    (4.11, 8.31, 4.81)
    >>> float(curve.chance_within(age=6.0, horizon=1.0).round(3))
    0.207
    """
    check_enough(counts)
    known = evidence(counts)
    summit = fitted(WEIBULL, known, counts)
    covariance = log_scale_covariance(summit)
    if covariance[1, 1] > LARGEST_LOG_STD_ERR**2:
        raise EstimateError(f"{counts.what}: the failures do not bound the shape; {FEW}")

    intercept, slope = summit.point[0]
    return WeibullCurve(
        shape=float(slope),
        scale=float(np.exp(known.centre + intercept / slope)),
        unit=counts.unit,
        log_likelihood=float(summit.value[0]),
        covariance=covariance,
        counts=counts,
    )
