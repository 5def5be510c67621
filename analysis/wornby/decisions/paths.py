"""The possible truths on which an open job is simulated: curves, luck, and shared wear."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wornby.decisions.open_job import Floats, OpenJob

Part = tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]


@dataclass(frozen=True, eq=False, slots=True)
class Paths:
    """One possible truth for each path: a curve for each part, and the luck of each position.

    `shape` and `scale` have axes path, component, part (in place now, renewed). A position's
    failures fall where its cumulative hazard, over all parts it has had, reaches the sums of
    unit exponential numbers. All bundles share these numbers, so their costs differ only
    by what the bundles do. `first_luck` has the numbers of the parts in place where more is known
    of them than their age. `wear` multiplies the hazard of all parts of the path's vehicle; its
    variance over all vehicles is `wear_variance`, 0 where parts live independently.
    """

    shape: Floats
    scale: Floats
    seed: int
    wear: Floats
    wear_variance: float
    first_luck: Floats | None = None

    @property
    def n(self) -> int:
        """How many paths."""
        return int(self.shape.shape[0])

    def luck(self, failure: int) -> Floats:
        """Hazard that a position spends between one failure and the next: path, component."""
        if failure == 0 and self.first_luck is not None:
            return self.first_luck
        rng = np.random.default_rng([self.seed, failure])
        return rng.standard_exponential(self.shape.shape[:2])

    def hazard(self, age: Floats, part: Part) -> Floats:
        """Cumulative hazard of a part up to an age, on its vehicle."""
        own = (age / self.scale[part]) ** self.shape[part]
        if self.wear_variance == 0:
            return np.asarray(own)
        return np.asarray(self.wear[part[0]] * _conditional(own, self.wear_variance))

    def age_at(self, hazard: Floats, part: Part) -> Floats:
        """The age at which a part has spent a cumulative hazard."""
        own = hazard
        if self.wear_variance > 0:
            own = np.log1p(self.wear_variance * hazard / self.wear[part[0]]) / self.wear_variance
        return np.asarray(self.scale[part] * own ** (1 / self.shape[part]))


def sampled_paths(job: OpenJob, *, n_paths: int, rng: np.random.Generator) -> Paths:
    """Draw one curve a path for each part; a part and its like successor share theirs."""
    shape, scale = np.empty((2, n_paths, len(job.neighbours), 2))
    for c, neighbour in enumerate(job.neighbours):
        pick = rng.integers(neighbour.life.shape.size, size=n_paths)
        shape[:, c, 0], scale[:, c, 0] = neighbour.life.shape[pick], neighbour.life.scale[pick]
        if neighbour.renewed_life is not neighbour.life:
            pick = rng.integers(neighbour.renewed_life.shape.size, size=n_paths)
        renewed = neighbour.renewed_life
        shape[:, c, 1], scale[:, c, 1] = renewed.shape[pick], renewed.scale[pick]
    seed = int(rng.integers(2**62))
    return Paths(shape, scale, seed, wear=np.ones(n_paths), wear_variance=0.0)


def sharing_wear(
    paths: Paths, job: OpenJob, *, wear_variance: float, rng: np.random.Generator
) -> Paths:
    """The same curves on vehicles whose parts wear alike (gamma frailty, Clayton 1978).

    Over all vehicles each part keeps its own curve. What this vehicle has shown is used: the
    failed part and each degraded one say that it wears fast, the parts that have lasted that it
    wears slowly. Kendall's tau of two lives is variance / (variance + 2).
    """
    if not math.isfinite(wear_variance) or wear_variance <= 0:
        raise ValueError(
            f"{job.group.name}: wear_variance is {wear_variance}, wanted a finite number above 0"
        )
    own = (job.ages / paths.scale[:, :, 0]) ** paths.shape[:, :, 0]
    spent = _conditional(own, wear_variance).sum(axis=1)
    shown = len(job.degraded | ({job.failed} if job.failed is not None else set()))
    wear = rng.gamma(1 / wear_variance + shown, size=paths.n) / (1 / wear_variance + spent)
    return replace(paths, wear=wear, wear_variance=wear_variance)


def _conditional(own: Floats, wear_variance: float) -> Floats:
    """Hazard at unit wear of a part whose hazard over all vehicles is known.

    With it survival over all vehicles, (1 + v h)^(-1/v), is the part's own curve. The exponent
    is cut off where nothing survives.
    """
    return np.asarray(np.expm1(np.minimum(wear_variance * own, 600.0)) / wear_variance)
