"""What the data leave open: an estimate with its interval, and draws of a curve."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number with its interval and unit; `None` says it is out of reach and `note` says why.

    An infinite upper limit means that the data set none.
    """

    value: float | None
    lower: float | None
    upper: float | None
    confidence: float
    unit: str
    note: str = ""


@dataclass(frozen=True, eq=False, slots=True)
class WeibullDraws:
    """Weibull curves as likely as the data leave them: one shape and scale for each draw."""

    shape: NDArray[np.float64]
    scale: NDArray[np.float64]
    unit: str

    def survival(self, age: ArrayLike) -> NDArray[np.float64]:
        """Chance of still running at each age: one row a draw, one column an age."""
        ages = np.atleast_1d(np.asarray(age, dtype=np.float64))
        with np.errstate(over="ignore"):
            return np.exp(-((ages[None, :] / self.scale[:, None]) ** self.shape[:, None]))

    def remaining_life(self, age: ArrayLike, uniform: NDArray[np.float64]) -> NDArray[np.float64]:
        """Life left after `age`, by inversion of one uniform number for each draw.

        None is left where the hazard gathered by then is past reckoning.
        """
        at = np.asarray(age, dtype=np.float64)
        with np.errstate(over="ignore"):
            ended = (at / self.scale) ** self.shape - np.log(uniform)
            life = self.scale * ended ** (1 / self.shape)
        return np.where(np.isinf(ended), 0.0, life - at)

    def on_scale(self, units_per_new_unit: float, unit: str) -> "WeibullDraws":
        """The same curves on another scale: miles become years at so many miles a year.

        >>> miles = WeibullDraws(np.array([2.0]), np.array([90_000.0]), "miles")
        >>> float(miles.on_scale(9_000.0, "years").scale[0])
        10.0
        """
        return WeibullDraws(self.shape, self.scale / units_per_new_unit, unit)

    def thinned(self, n: int) -> "WeibullDraws":
        """At most `n` of the draws, evenly chosen."""
        at = np.linspace(0, self.shape.size - 1, min(n, self.shape.size)).astype(np.intp)
        return WeibullDraws(self.shape[at], self.scale[at], self.unit)
