"""The parts of one vehicle as they are now: age, condition, and how they live from here."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs import AccessGroup, PartCosts
from wornby.decisions.long_run import check_draws
from wornby.decisions.shared_wear import LivesOn, wear_given

Floats = NDArray[np.float64]

RUNNING, SOUND, DEGRADED = "running", "sound", "degraded"
MOST_DELAYS = 12.0


@dataclass(frozen=True, eq=False, slots=True)
class VehiclePart:
    """One part in place; arrays have an entry for each path, a possible truth.

    `age_years` is what it may have done so far, on the curve of that path in `life`. A part found
    degraded lives on for an exponential delay of mean `delay_years`; one just found sound by a
    look that sees a defect with the chance `detection` is less likely to be within a delay of
    its failure. Without a known delay both live on as any running part of their age. `wear` is
    how hard each path's vehicle is on the places that `worn_alike` joins; None: on its own.
    """

    costs: PartCosts
    group: AccessGroup
    age_years: Floats
    life: WeibullDraws
    renewed_life: WeibullDraws
    condition: str
    delay_years: Floats | None
    detection: float
    wear: Floats | None = None
    wear_variance: Floats | None = None

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

    @property
    def told_sound(self) -> bool:
        """Whether a look that found it sound says more of it than its age."""
        return self.condition == SOUND and self.delay_years is not None

    @property
    def wears(self) -> tuple[Floats, Floats]:
        """Its vehicle's wear and the variance of wear over all vehicles, path by path."""
        if self.wear is None or self.wear_variance is None:
            return np.ones_like(self.age_years), np.zeros_like(self.age_years)
        return self.wear, self.wear_variance

    def from_here(self) -> LivesOn:
        """The curve on which it lives on, its age on that curve, and its vehicle's wear."""
        if self.condition == DEGRADED and self.delay_years is not None:
            showing = WeibullDraws(np.ones_like(self.delay_years), self.delay_years, "years")
            nothing = np.zeros_like(self.age_years)
            return LivesOn(showing, nothing, np.ones_like(nothing), nothing)
        return LivesOn(self.life, self.age_years, *self.wears)

    def chance_within(self, years: float) -> Floats:
        """Chance of failing within so many years, on each path."""
        here = self.from_here()
        chance = here.failing(years)
        if self.condition != SOUND or self.delay_years is None:
            return chance
        within = np.full_like(chance, years)
        seen = self.detection * here.showing(within, self.delay_years)
        ever = self.detection * here.showing(MOST_DELAYS * self.delay_years, self.delay_years)
        return np.asarray(np.clip((chance - seen) / (1 - ever), 0, 1))

    def luck(self, rng: np.random.Generator) -> Floats:
        """Hazard left to the first failure on each path; what a look would have seen is redrawn."""
        if self.condition != SOUND or self.delay_years is None:
            return rng.standard_exponential(self.age_years.shape)
        return self.from_here().luck_unseen(self.delay_years, detection=self.detection, rng=rng)


def worn_alike(
    parts: Sequence[VehiclePart], variance: Floats, rng: np.random.Generator
) -> list[VehiclePart]:
    """The places of one component on one vehicle, whose wear is drawn from what they show.

    `variance` has one number for each path. Those found degraded say that the vehicle wears
    fast, the ages that all have reached that it wears slowly.
    """
    own = np.column_stack([(p.age_years / p.life.scale) ** p.life.shape for p in parts])
    shown = sum(part.condition == DEGRADED for part in parts)
    wear = wear_given(own, variance, shown=shown, rng=rng)
    return [replace(part, wear=wear, wear_variance=variance) for part in parts]
