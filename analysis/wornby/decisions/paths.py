"""The possible truths on which an open job is simulated: curves, luck, and shared wear."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.open_job import Bools, Floats, OpenJob
from wornby.decisions.shared_wear import LivesOn, SharedPlaces, on_vehicle, over_all, wear_given

Part = tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]


@dataclass(frozen=True, eq=False, slots=True)
class Paths:
    """One possible truth for each path: a curve for each part, and the luck of each position.

    `shape` and `scale` have axes path, component, part (in place now, renewed). A position's
    failures fall where its cumulative hazard, over all parts it has had, reaches the sums of
    unit exponential numbers. All bundles share these numbers, so their costs differ only
    by what the bundles do. `first_luck` has the numbers of the parts in place of which more is
    known than their age, not a number for the others. `wear` multiplies the hazard of a part on
    the path's vehicle; `wear_variance` is its variance over all vehicles, 0 where the part lives
    on its own. Both have the axes of `shape`; None: all live independently.
    """

    shape: Floats
    scale: Floats
    seed: int
    wear: Floats | None = None
    wear_variance: Floats | None = None
    first_luck: Floats | None = None

    @property
    def n(self) -> int:
        """How many paths."""
        return int(self.shape.shape[0])

    def luck(self, failure: int) -> Floats:
        """Hazard that a position spends between one failure and the next: path, component."""
        rng = np.random.default_rng([self.seed, failure])
        return rng.standard_exponential(self.shape.shape[:2])

    @property
    def known(self) -> Bools:
        """Of which parts in place more is known than their age: path, component."""
        if self.first_luck is None:
            return np.zeros(self.shape.shape[:2], dtype=np.bool_)
        return np.asarray(~np.isnan(self.first_luck))

    def luck_in_place(self) -> Floats:
        """Hazard left to the parts in place before they fail: path, component."""
        fresh = self.luck(0)
        return fresh if self.first_luck is None else np.where(self.known, self.first_luck, fresh)

    def hazard(self, age: Floats, part: Part) -> Floats:
        """Cumulative hazard of a part up to an age, on its vehicle."""
        own = (age / self.scale[part]) ** self.shape[part]
        if self.wear is None or self.wear_variance is None:
            return np.asarray(own)
        return on_vehicle(own, self.wear[part], self.wear_variance[part])

    def age_at(self, hazard: Floats, part: Part) -> Floats:
        """The age at which a part has spent a cumulative hazard."""
        own = hazard
        if self.wear is not None and self.wear_variance is not None:
            own = over_all(hazard, self.wear[part], self.wear_variance[part])
        return np.asarray(self.scale[part] * own ** (1 / self.shape[part]))


def sampled_paths(job: OpenJob, *, n_paths: int, rng: np.random.Generator) -> Paths:
    """Draw one curve a path for each part; parts that live by the same draws share theirs."""
    shape, scale = np.empty((2, n_paths, len(job.neighbours), 2))
    picks: dict[int, NDArray[np.intp]] = {}
    for c, neighbour in enumerate(job.neighbours):
        for part, life in enumerate((neighbour.life, neighbour.renewed_life)):
            if id(life) not in picks:
                picks[id(life)] = rng.integers(life.shape.size, size=n_paths)
            pick = picks[id(life)]
            shape[:, c, part], scale[:, c, part] = life.shape[pick], life.scale[pick]
    return Paths(shape, scale, int(rng.integers(2**62)))


def sharing_wear(
    paths: Paths, job: OpenJob, shared: Sequence[SharedPlaces], rng: np.random.Generator
) -> Paths:
    """The same curves on vehicles some of whose places wear alike.

    What this vehicle has shown is used: a place that failed and each degraded one say that it
    wears fast, those that have lasted that it wears slowly.
    """
    wear, variance = np.ones_like(paths.shape), np.zeros_like(paths.shape)
    own = (job.ages / paths.scale[:, :, 0]) ** paths.shape[:, :, 0]
    found = job.degraded | ({job.failed} if job.failed is not None else set())
    for one in shared:
        at = [c for c, name in enumerate(job.components) if name in one.places]
        drawn = rng.choice(one.variance, size=paths.n)
        shown = len(found & set(one.places))
        wears = wear_given(own[:, at], drawn, shown=shown, rng=rng)
        wear[:, at], variance[:, at] = wears[:, None, None], drawn[:, None, None]
    return replace(paths, wear=wear, wear_variance=variance)


def as_found(paths: Paths, job: OpenJob, rng: np.random.Generator) -> Paths:
    """The same paths with what a look found of the parts in place, where their delay is known.

    A degraded part lives on for its delay, whatever its age and its vehicle's wear
    (`open_job.living_on` has the job for them). Of a sound one, a defect that the look would have
    seen is ruled out.
    """
    shape, scale = paths.shape.copy(), paths.scale.copy()
    wear = None if paths.wear is None else paths.wear.copy()
    variance = None if paths.wear_variance is None else paths.wear_variance.copy()
    luck = np.full(paths.shape.shape[:2], np.nan)
    for c, neighbour in enumerate(job.neighbours):
        if neighbour.delay_years is None or neighbour.component == job.failed:
            continue
        delay = rng.choice(neighbour.delay_years, size=paths.n)
        if neighbour.component in job.degraded:
            shape[:, c, 0], scale[:, c, 0] = 1.0, delay
            if wear is not None and variance is not None:
                wear[:, c, 0], variance[:, c, 0] = 1.0, 0.0
        elif neighbour.component in job.sound and neighbour.detection > 0:
            here = _in_place(paths, c, neighbour.age_years)
            luck[:, c] = here.luck_unseen(delay, detection=neighbour.detection, rng=rng)
    return replace(
        paths, shape=shape, scale=scale, wear=wear, wear_variance=variance, first_luck=luck
    )


def _in_place(paths: Paths, c: int, age_years: float) -> LivesOn:
    ones = np.ones(paths.n)
    return LivesOn(
        WeibullDraws(paths.shape[:, c, 0], paths.scale[:, c, 0], "years"),
        np.full(paths.n, age_years),
        ones if paths.wear is None else paths.wear[:, c, 0],
        0 * ones if paths.wear_variance is None else paths.wear_variance[:, c, 0],
    )
