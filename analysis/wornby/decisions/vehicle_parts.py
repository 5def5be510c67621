"""The parts of one vehicle as they are now: age, condition, and how they live from here."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs import AccessGroup, PartCosts
from wornby.decisions.long_run import check_draws

Floats = NDArray[np.float64]

RUNNING, SOUND, DEGRADED = "running", "sound", "degraded"
NODES, WEIGHTS = np.polynomial.legendre.leggauss(24)
MOST_DELAYS = 12.0
MOST_REDRAWS = 60


@dataclass(frozen=True, eq=False, slots=True)
class VehiclePart:
    """One part in place; arrays have an entry for each path, a possible truth.

    `age_years` is what it may have done so far, on the curve of that path in `life`. A part found
    degraded lives on for an exponential delay of mean `delay_years`; one just found sound by a
    look that sees a defect with the chance `detection` is less likely to be within a delay of
    its failure. Without a known delay both live on as any running part of their age.
    """

    costs: PartCosts
    group: AccessGroup
    age_years: Floats
    life: WeibullDraws
    renewed_life: WeibullDraws
    condition: str
    delay_years: Floats | None
    detection: float

    def __post_init__(self) -> None:
        """Refuse a part that cannot be."""
        name = self.costs.component
        check_draws(self.life, f"{name}, part in place")
        check_draws(self.renewed_life, f"{name}, renewed part")
        if self.age_years.shape != self.life.shape.shape:
            raise ValueError(
                f"{name}: {self.age_years.size} ages for {self.life.shape.size} curves, "
                "wanted one for each path"
            )
        if not np.isfinite(self.age_years).all() or self.age_years.min() < 0:
            raise ValueError(f"{name}: an age of {self.age_years.min()}, wanted from 0 up")
        if self.condition not in (RUNNING, SOUND, DEGRADED):
            raise ValueError(f"{name}: {self.condition!r}, wanted running, sound or degraded")
        if not 0 <= self.detection <= 1:
            raise ValueError(f"{name}: detection is {self.detection}, wanted 0 to 1")

    @property
    def name(self) -> str:
        """The component and its place."""
        return self.costs.component

    @property
    def must_go(self) -> bool:
        """A degraded safety part is never left, whatever the money says."""
        return self.costs.safety and self.condition == DEGRADED

    def from_here(self) -> tuple[WeibullDraws, Floats]:
        """The curve on which it lives on, and its age on that curve."""
        if self.condition == DEGRADED and self.delay_years is not None:
            showing = WeibullDraws(np.ones_like(self.delay_years), self.delay_years, "years")
            return showing, np.zeros_like(self.age_years)
        return self.life, self.age_years

    def chance_within(self, years: float) -> Floats:
        """Chance of failing within so many years, on each path."""
        life, age = self.from_here()
        chance = _failing(life, age, np.full_like(age, years))
        if self.condition != SOUND or self.delay_years is None:
            return chance
        seen = self.detection * self._shown(np.full_like(age, years), self.delay_years)
        ever = self.detection * self._shown(MOST_DELAYS * self.delay_years, self.delay_years)
        return np.asarray(np.clip((chance - seen) / (1 - ever), 0, 1))

    def luck(self, rng: np.random.Generator) -> Floats:
        """Hazard left to the first failure on each path; what a look would have seen is redrawn.

        A defect shows for an exponential time before the failure; a path whose defect would show
        now is kept with the chance that the look missed it.
        """
        spent = rng.standard_exponential(self.age_years.shape)
        if self.condition != SOUND or self.delay_years is None:
            return spent
        open_ = np.ones(spent.shape, dtype=np.bool_)
        for _ in range(MOST_REDRAWS):
            left = self.life.remaining_life(self.age_years, np.exp(-spent))
            shown = rng.standard_exponential(spent.shape) * self.delay_years > left
            open_ &= shown & (rng.random(spent.shape) < self.detection)
            if not open_.any():
                break
            spent[open_] = rng.standard_exponential(int(open_.sum()))
        return spent

    def _shown(self, years: Floats, delay: Floats) -> Floats:
        """Chance of failing within `years` of a defect that shows now."""
        nodes = years[:, None] / 2 * (1 + NODES)
        ages = self.age_years[:, None] + nodes
        shape, scale = self.life.shape[:, None], self.life.scale[:, None]
        before = (self.age_years / self.life.scale) ** self.life.shape
        density = shape / scale * (ages / scale) ** (shape - 1)
        density *= np.exp(before[:, None] - (ages / scale) ** shape - nodes / delay[:, None])
        return np.asarray(years / 2 * (density @ WEIGHTS))


def _failing(life: WeibullDraws, age: Floats, years: Floats) -> Floats:
    before = (age / life.scale) ** life.shape
    return np.asarray(-np.expm1(before - ((age + years) / life.scale) ** life.shape))
