"""How long a job takes: few past jobs, skewed, around the book hours."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class HoursPosterior:
    """What is known of the logarithm of a job's hours: normal-inverse-gamma.

    The variance is inverse gamma with `half_weight` and `rate`; given it, the mean is normal
    around `centre` with the variance divided by `weight`.
    """

    centre: float
    weight: float
    half_weight: float
    rate: float

    def draws(self, n: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Mean and standard deviation of the log hours, drawn n times."""
        variance = self.rate / rng.gamma(self.half_weight, size=n)
        mean = rng.normal(self.centre, np.sqrt(variance / self.weight))
        return mean, np.sqrt(variance)


@dataclass(frozen=True, slots=True)
class HoursPrior:
    """What is thought of a job's hours before its own past jobs are looked at.

    The log hours of a job have a mean around that of `hours`, known as well as by `weight_jobs`
    past jobs, and scatter by `spread`, known as well as by `spread_weight_jobs` of them.
    """

    hours: float
    weight_jobs: float
    spread: float
    spread_weight_jobs: float


def hours_posterior(hours: ArrayLike, weights: ArrayLike, *, prior: HoursPrior) -> HoursPosterior:
    """Update a prior by past jobs (conjugate; Gelman et al., Bayesian Data Analysis, 3.3).

    A past job of another version may weigh less than one (power prior, Ibrahim & Chen 2000).

    >>> book = HoursPrior(hours=6, weight_jobs=3, spread=0.2, spread_weight_jobs=3)
    >>> known = hours_posterior([7, 8, 9], [1, 1, 1], prior=book)
    >>> round(float(np.exp(known.centre)), 2), known.weight
    (6.91, 6.0)
    """
    log_hours, weight = np.log(np.asarray(hours, dtype=np.float64)), np.asarray(weights)
    n = float(weight.sum())
    mean = float(weight @ log_hours) / n if n else 0.0
    squares = float(weight @ (log_hours - mean) ** 2)
    gap = mean - np.log(prior.hours) if n else 0.0
    total = prior.weight_jobs + n
    doubt = prior.spread_weight_jobs * prior.spread**2
    return HoursPosterior(
        centre=float(np.log(prior.hours) + n / total * gap),
        weight=total,
        half_weight=(prior.spread_weight_jobs + n) / 2,
        rate=float(doubt + squares + prior.weight_jobs * n / total * gap**2) / 2,
    )


def lognormal_mean(values: ArrayLike, *, confidence: float, unit: str) -> Estimate:
    """The mean of skewed positive values, with the interval of the modified Cox method.

    exp(m + s^2/2), limits from t with n - 1 degrees of freedom (Olsson 2005).

    >>> readings = [12.5, 20, 4, 20, 25, 170, 15, 20, 15]
    >>> mean = lognormal_mean(readings, confidence=0.95, unit="ppm")
    >>> round(mean.value, 2), round(mean.lower, 2), round(mean.upper, 2)
    (31.13, 12.31, 78.72)
    """
    seen = np.asarray(values, dtype=np.float64)
    if seen.size < 2:
        return Estimate(None, None, None, confidence, unit, f"{seen.size} seen, wanted 2 or more")
    if not (seen > 0).all():
        raise EstimateError(f"lognormal mean: a value of {seen.min()}, wanted all above 0")
    logs, n = np.log(seen), seen.size
    variance = float(logs.var(ddof=1))
    centre = float(logs.mean()) + variance / 2
    spread = np.sqrt(variance / n + variance**2 / (2 * (n - 1)))
    reach = float(stats.t.ppf((1 + confidence) / 2, n - 1) * spread)
    lower, value, upper = np.exp([centre - reach, centre, centre + reach])
    return Estimate(float(value), float(lower), float(upper), confidence, unit)
