"""One likelihood for any mix of delayed entry, exact, right, left and interval censoring.

A curve of log age is z = slope x (log age - centre) - intercept passed through a standard
distribution: smallest extreme value for the Weibull, normal for the lognormal, logistic for
the log-logistic (Lawless 2003, chapter 5; Meeker & Escobar 1998, chapter 8). z is linear in
the parameters, so the log-likelihood is concave without delayed entry (Burridge 1981).

Everything has a leading axis: one row for each parameter pair, so that a grid or a thousand
resamples cost one call. Derivatives are exact.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from scipy.special import expit, log_expit, log_ndtr, logit, ndtri

from wornby.curves.log_ages import Array, Evidence

LARGEST_EXPONENT = 300.0
Jet: TypeAlias = tuple[Array, Array, Array]  # a value with its first and second derivative in z


@dataclass(frozen=True, slots=True)
class Family:
    """A standard distribution: log survival and log hazard, with two derivatives, and quantile."""

    name: str
    log_survival: Callable[[Array], Jet]
    log_hazard: Callable[[Array], Jet]
    quantile: Callable[[float], float]


def weibull_log_survival(z: Array) -> Jet:
    """Smallest extreme value: minus the cumulative hazard exp(z), which is its own derivative.

    Past the largest exponent it is minus infinity: were it cut off there, what a late entry had
    gathered before would cancel all that came after.
    """
    value = np.where(z > LARGEST_EXPONENT, -np.inf, -np.exp(np.minimum(z, LARGEST_EXPONENT)))
    return value, value, value


def weibull_log_hazard(z: Array) -> Jet:
    """Smallest extreme value: z itself."""
    return z, np.ones_like(z), np.zeros_like(z)


def normal_log_survival(z: Array) -> Jet:
    """Normal, through the logarithm of its lower tail at -z."""
    value = log_ndtr(-z)
    ratio = np.exp(-(z**2) / 2 - np.log(2 * np.pi) / 2 - value)
    return value, -ratio, -ratio * (ratio - z)


def normal_log_hazard(z: Array) -> Jet:
    """Normal: the inverse Mills ratio at -z."""
    log_alive, minus_ratio, bend = normal_log_survival(z)
    value = -(z**2) / 2 - np.log(2 * np.pi) / 2 - log_alive
    return value, -z - minus_ratio, -1 - bend


def logistic_log_survival(z: Array) -> Jet:
    """Logistic: the chance of ending later is 1/(1 + e^z)."""
    ended = expit(z)
    return log_expit(-z), -ended, -ended * (1 - ended)


def logistic_log_hazard(z: Array) -> Jet:
    """Logistic: the share that has ended."""
    ended = expit(z)
    return log_expit(z), 1 - ended, -ended * (1 - ended)


def weibull_quantile(share: float) -> float:
    """Smallest extreme value: log(-log(1 - share))."""
    return float(np.log(-np.log1p(-share)))


def normal_quantile(share: float) -> float:
    """Normal."""
    return float(ndtri(share))


def logistic_quantile(share: float) -> float:
    """Logistic: the log odds."""
    return float(logit(share))


WEIBULL = Family("Weibull", weibull_log_survival, weibull_log_hazard, weibull_quantile)
LOGNORMAL = Family("lognormal", normal_log_survival, normal_log_hazard, normal_quantile)
LOGLOGISTIC = Family("log-logistic", logistic_log_survival, logistic_log_hazard, logistic_quantile)


def point_terms(jet: Jet, x: Array, weight: Array) -> tuple[Array, Array, Array]:
    """Sum a function of z over ages: value, gradient and Hessian in (intercept, slope)."""
    value, first, second = jet
    # einsum, not a matrix product: on few columns threaded BLAS is fifty times slower under load
    powers = np.stack([np.ones_like(x), x, x**2])
    by_first = np.einsum("...m,km->...k", weight * first, powers)
    by_second = by_first if second is first else np.einsum("...m,km->...k", weight * second, powers)
    total = by_first[..., 0] if value is first else (weight * value).sum(-1)
    gradient = np.stack([-by_first[..., 0], by_first[..., 1]], axis=-1)
    cross = -by_second[..., 1]
    rows = [
        np.stack([by_second[..., 0], cross], axis=-1),
        np.stack([cross, by_second[..., 2]], axis=-1),
    ]
    return total, gradient, np.stack(rows, axis=-2)


def log_density(family: Family, z: Array) -> tuple[Array, Array]:
    """The logarithm of the density, with its slope."""
    alive, alive_slope, _ = family.log_survival(z)
    hazard, hazard_slope, _ = family.log_hazard(z)
    return alive + hazard, alive_slope + hazard_slope


def bounded_terms(family: Family, known: Evidence, theta: Array) -> tuple[Array, Array, Array]:
    """Sum log(S(lower) - S(upper)) over the bounded failures, with its derivatives."""
    intercept, slope = theta[:, :1], theta[:, 1:]
    at_lower, at_upper = slope * known.lower - intercept, slope * known.upper - intercept
    alive = np.where(known.from_new, 0.0, family.log_survival(at_lower)[0])
    log_chance = alive + np.log(-np.expm1(family.log_survival(at_upper)[0] - alive))
    low, low_slope = log_density(family, at_lower)
    high, high_slope = log_density(family, at_upper)
    p_low = np.where(known.from_new, 0.0, np.exp(low - log_chance))
    p_high = np.exp(high - log_chance)

    x_low, x_high, weight = known.lower, known.upper, known.bounded_weight
    by_intercept, by_slope = p_low - p_high, p_high * x_high - p_low * x_low
    gradient = np.stack([(weight * by_intercept).sum(-1), (weight * by_slope).sum(-1)], axis=-1)
    bend_low, bend_high = p_low * low_slope, p_high * high_slope
    twice = bend_high - bend_low - by_intercept**2
    cross = bend_low * x_low - bend_high * x_high - by_intercept * by_slope
    squares = bend_high * x_high**2 - bend_low * x_low**2 - by_slope**2
    sums = [(weight * term).sum(-1) for term in (twice, cross, cross, squares)]
    hessian = np.stack(sums, axis=-1).reshape(-1, 2, 2)
    return (weight * log_chance).sum(-1), gradient, hessian


def log_likelihood(family: Family, known: Evidence, theta: Array) -> tuple[Array, Array, Array]:
    """Value (n,), gradient (n, 2) and Hessian (n, 2, 2) at n rows of (intercept, slope).

    It is the density's logarithm in the counts' own unit. A slope of nought or less has the
    value minus infinity.
    """
    intercept, slope = theta[:, :1], theta[:, 1:]
    with np.errstate(all="ignore"):
        alive = family.log_survival(slope * known.alive - intercept)
        failed = family.log_hazard(slope * known.failed - intercept)
        parts = [
            point_terms(alive, known.alive, known.alive_weight),
            point_terms(failed, known.failed, known.failed_weight),
        ]
        if known.upper.size:
            parts.append(bounded_terms(family, known, theta))
        value, gradient, hessian = (sum(terms) for terms in zip(*parts, strict=True))
        n_failed = known.failed_weight.sum(-1)
        log_ages = (known.failed_weight * (known.failed + known.centre)).sum(-1)
        value = value + n_failed * np.log(slope[:, 0]) - log_ages
        gradient[:, 1] += n_failed / slope[:, 0]
        hessian[:, 1, 1] -= n_failed / slope[:, 0] ** 2
    return np.where(np.isfinite(value), value, -np.inf), gradient, hessian
