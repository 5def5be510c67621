"""Families with one number more: at each value of it, a curve of log age like the others.

Generalised gamma in the form of Prentice (1974): Q = 1 is the Weibull, Q = 0 the lognormal.
With a share that never fails, survival is share + (1 - share) x that of the Weibull.
"""

import numpy as np
from scipy.special import gammainc, gammaincc, gammaincinv, gammaln

from wornby.curves.likelihood import LARGEST_EXPONENT, LOGNORMAL, Family, Jet
from wornby.curves.log_ages import Array

NEARLY_NORMAL = 1e-3  # nearer, the tails of the incomplete gamma function lose their digits
NEARLY_STIRLING = 1e4
FAINTEST = 1e-280


def log_kernel(a: float, x: Array) -> Array:
    """Logarithm of x^a e^-x / gamma(a), without the loss of large numbers that nearly cancel."""
    away = np.log(x / a)
    return np.asarray(log_peak(a) + a * (away - np.expm1(away)) + np.log(a) / 2)


def log_peak(a: float) -> float:
    """Logarithm of a^(a - 1/2) e^-a / gamma(a); by Stirling's series where a is large."""
    if a < NEARLY_STIRLING:
        return float((a - 0.5) * np.log(a) - a - gammaln(a))
    return float(-np.log(2 * np.pi) / 2 - 1 / (12 * a))


def log_upper(a: float, x: Array) -> Array:
    """Logarithm of the regularised upper incomplete gamma function, past its underflow too.

    Past it by three levels of the continued fraction (Abramowitz & Stegun 1964, 6.5.31).
    """
    share, other = gammaincc(a, x), gammainc(a, x)
    far = share < FAINTEST
    direct = np.where(
        other < 0.5, np.log1p(-np.minimum(other, 0.5)), np.log(np.where(far, 1, share))
    )
    at = np.where(far, x, a + 1.0)
    gap = at - a
    fraction = gap + 1 + (a - 1) / (gap + 3 + 2 * (a - 2) / (gap + 5))
    beyond = log_kernel(a, at) - np.log(fraction)
    return np.where(far, beyond, direct)


def log_lower(a: float, x: Array) -> Array:
    """Logarithm of the regularised lower incomplete gamma function, past its underflow too.

    Past it by three levels of its continued fraction, or of the normal's where a is large (both
    from memory; tested by their slopes).
    """
    share, other = gammainc(a, x), gammaincc(a, x)
    far = share < FAINTEST
    direct = np.where(
        other < 0.5, np.log1p(-np.minimum(other, 0.5)), np.log(np.where(far, 1, share))
    )
    at = np.where(far, np.maximum(x, 1e-300), a / 2)
    gap = a - at
    if a > NEARLY_STIRLING:
        fraction = gap + a / (gap + 2 * a / (gap + 3 * a / gap))
    else:
        fraction = a - a * at / (a + 1 + at / (a + 2 - (a + 1) * at / (a + 3)))
    beyond = log_kernel(a, at) - np.log(fraction)
    return np.where(far, beyond, direct)


def generalised_gamma(q: float) -> Family:
    """Prentice's family at one Q; negative Q turns the tail about.

    Within 1e-3 of nought it is the lognormal.
    """
    if abs(q) < NEARLY_NORMAL:
        return LOGNORMAL
    a = q**-2
    constant = log_peak(a)

    def log_density(z: Array) -> tuple[Array, Array]:
        rise = np.expm1(np.minimum(q * z, LARGEST_EXPONENT))
        return constant + a * (q * z - rise), -a * q * rise

    def log_survival(z: Array) -> Jet:
        x = a * np.exp(np.minimum(q * z, LARGEST_EXPONENT))
        value = log_upper(a, x) if q > 0 else log_lower(a, x)
        density, slope = log_density(z)
        hazard = np.exp(np.minimum(density - value, LARGEST_EXPONENT))
        return value, -hazard, -hazard * (slope + hazard)

    def log_hazard(z: Array) -> Jet:
        value, minus_hazard, bend = log_survival(z)
        density, slope = log_density(z)
        power = np.exp(np.minimum(q * z, LARGEST_EXPONENT))
        return density - value, slope - minus_hazard, -a * q**2 * power - bend

    def quantile(share: float) -> float:
        below = share if q > 0 else 1 - share
        return float(np.log(gammaincinv(a, below) / a) / q)

    return Family("generalised gamma", log_survival, log_hazard, quantile)


def weibull_with_survivors(never: float) -> Family:
    """A Weibull for those that can fail, and a share that never does."""
    log_mortal = np.log1p(-never)

    def log_survival(z: Array) -> Jet:
        hazard = np.exp(np.minimum(z, LARGEST_EXPONENT))
        dying = (1 - never) * np.exp(-hazard)
        alive = never + dying
        first = -hazard * dying / alive
        return np.log(alive), first, first * (1 - hazard) - first**2

    def log_hazard(z: Array) -> Jet:
        hazard = np.exp(np.minimum(z, LARGEST_EXPONENT))
        value, first, second = log_survival(z)
        return log_mortal + z - hazard - value, 1 - hazard - first, -hazard - second

    def quantile(share: float) -> float:
        if share >= 1 - never:
            return np.inf
        return float(np.log(-np.log1p(-share / (1 - never))))

    return Family("Weibull with a share that never fails", log_survival, log_hazard, quantile)
