"""What was known of a Weibull before the records: a prior for its shape, stated with its basis."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from wornby.curves.log_ages import Array


@dataclass(frozen=True, slots=True)
class ShapePrior:
    """A lognormal prior for the shape, and how heavily the scale's prior leans.

    95 % of it lies between median / factor and median x factor. Given the shape, the prior of
    the number of failures expected while the lives were known alive is that number to the power
    `scale_power` - 1, between 1e-6 and 1e9: 0 is log-uniform in the scale, 0.5 is Jeffreys'
    rule for a Poisson count, 1 is flat and gives the chi-square bounds with one failure more.
    `basis` says where the numbers come from, and is printed with the results.
    """

    median: float
    factor: float
    scale_power: float
    basis: str

    def __post_init__(self) -> None:
        """Refuse a prior that is none."""
        if not (0 < self.median < np.inf and 1 < self.factor < np.inf):
            raise ValueError(f"{self}: wanted a median above 0 and a factor above 1")
        if not 0 <= self.scale_power <= 1:
            raise ValueError(f"{self}: wanted a scale power from 0 to 1")

    @property
    def log_std_dev(self) -> float:
        """Standard deviation of the logarithm of the shape."""
        return float(np.log(self.factor) / ndtri(0.975))

    def log_density(self, log_shape: Array) -> Array:
        """Logarithm of the density for each unit of log shape."""
        spread = self.log_std_dev
        z = (log_shape - np.log(self.median)) / spread
        return np.asarray(-(z**2) / 2 - np.log(spread) - np.log(2 * np.pi) / 2)


CAR_COMPONENT = ShapePrior(
    median=2.0, factor=5.0, scale_power=0.5, basis="common practice, no source"
)
