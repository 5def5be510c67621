"""Places of one vehicle that wear alike: the hazard of each is multiplied by the vehicle's wear.

Gamma frailty (Clayton 1978; Hougaard 2000, chapter 7): over all vehicles wear has mean 1 and a
variance, each part keeps its own curve, and Kendall's tau of two lives is variance /
(variance + 2). What a vehicle has shown tells of its wear: a part that failed or degraded young
says that it wears fast, parts that have lasted say that it wears slowly.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws

Floats = NDArray[np.float64]

LEAST_VARIANCE = 1e-9
MOST_EXPONENT = 600.0
STEPS = 48
MOST_REDRAWS = 60


@dataclass(frozen=True, eq=False, slots=True)
class SharedPlaces:
    """Places that wear alike, and the variance of wear over all vehicles: a draw each.

    `told` says in words how far, and who says so, `plainly` the same for who knows no statistics.
    """

    places: tuple[str, ...]
    variance: Floats
    told: str = ""
    plainly: str = ""

    def __post_init__(self) -> None:
        """Refuse a variance that no wear has."""
        if self.variance.size == 0 or not np.isfinite(self.variance).all():
            raise ValueError(f"{self.places[0]}: variance of wear, wanted finite numbers from 0 up")
        if self.variance.min() < 0:
            raise ValueError(
                f"{self.places[0]}: variance of wear is {self.variance.min():g}, wanted from 0 up"
            )


def on_vehicle(own: Floats, wear: Floats, variance: Floats) -> Floats:
    """Cumulative hazard on a vehicle of known wear, from the part's own over all vehicles.

    With wear of mean 1 the survival over all vehicles is then the part's own curve. The exponent
    is cut off where nothing survives.
    """
    shared = variance > LEAST_VARIANCE
    v = np.where(shared, variance, 1.0)
    return np.where(shared, wear * np.expm1(np.minimum(v * own, MOST_EXPONENT)) / v, own)


def over_all(spent: Floats, wear: Floats, variance: Floats) -> Floats:
    """The part's own cumulative hazard at which it has spent so much on this vehicle."""
    shared = variance > LEAST_VARIANCE
    v = np.where(shared, variance, 1.0)
    return np.where(shared, np.log1p(v * spent / wear) / v, spent)


def wear_given(own: Floats, variance: Floats, *, shown: int, rng: np.random.Generator) -> Floats:
    """The wear of each path's vehicle, drawn from what its places have shown.

    `own` has a row a path and a column for each place: the hazard it has gathered over all
    vehicles by its age. `shown` places of them failed or degraded there. Conjugate: gamma of
    shape 1 / v + shown and rate 1 / v + what is spent at unit wear.
    """
    shared = variance > LEAST_VARIANCE
    v = np.where(shared, variance, 1.0)
    spent = (np.expm1(np.minimum(v[:, None] * own, MOST_EXPONENT)) / v[:, None]).sum(axis=1)
    drawn = rng.gamma(1 / v + shown) / (1 / v + spent)
    return np.where(shared, np.maximum(drawn, 1e-300), 1.0)


@dataclass(frozen=True, eq=False, slots=True)
class LivesOn:
    """A part in place, on each path: its curve, its age on it, and its vehicle's wear."""

    life: WeibullDraws
    age_years: Floats
    wear: Floats
    wear_variance: Floats

    def hazard(self, age: Floats) -> Floats:
        """Cumulative hazard by an age, on each path's vehicle; ages may have further columns."""
        shape, scale, wear, variance = (
            a.reshape(-1, *[1] * (age.ndim - 1))
            for a in (self.life.shape, self.life.scale, self.wear, self.wear_variance)
        )
        return on_vehicle((age / scale) ** shape, wear, variance)

    def failing(self, years: float) -> Floats:
        """Chance of failing within so many years."""
        now, then = self.hazard(self.age_years), self.hazard(self.age_years + years)
        return np.asarray(-np.expm1(now - then))

    def left(self, spent: Floats) -> Floats:
        """Years until so much more hazard is spent."""
        own = over_all(self.hazard(self.age_years) + spent, self.wear, self.wear_variance)
        ends_at = self.life.scale * own ** (1 / self.life.shape)
        return np.asarray(np.maximum(ends_at - self.age_years, 0.0))

    def showing(self, years: Floats, delay_years: Floats) -> Floats:
        """Chance of failing within `years` of a defect that shows now.

        Taken in steps over which the failure comes at any moment alike.
        """
        since = years[:, None] * np.linspace(0, 1, STEPS + 1)
        survival = np.exp(
            self.hazard(self.age_years)[:, None] - self.hazard(self.age_years[:, None] + since)
        )
        in_delays = np.maximum(since, 0.0) / delay_years[:, None]
        still = -np.diff(np.exp(-in_delays), axis=1) / np.maximum(
            np.diff(in_delays, axis=1), 1e-300
        )
        return np.asarray((-np.diff(survival, axis=1) * still).sum(axis=1))

    def luck_unseen(
        self, delay_years: Floats, *, detection: float, rng: np.random.Generator
    ) -> Floats:
        """Hazard left to the failure on each path, given that a look has seen nothing.

        A defect shows for an exponential time before the failure; a path whose defect would show
        now is kept with the chance that the look missed it.
        """
        spent = rng.standard_exponential(self.age_years.shape)
        open_ = np.ones(spent.shape, dtype=np.bool_)
        for _ in range(MOST_REDRAWS):
            shown = rng.standard_exponential(spent.shape) * delay_years > self.left(spent)
            open_ &= shown & (rng.random(spent.shape) < detection)
            if not open_.any():
                break
            spent[open_] = rng.standard_exponential(int(open_.sum()))
        return spent
