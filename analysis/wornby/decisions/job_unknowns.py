"""What the records leave open about a job: one possible truth a draw, and the sizes seen."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Sizes = tuple[Floats, Floats]
"""Costs seen, and how much each counts."""


@dataclass(frozen=True, eq=False, slots=True)
class Unknowns:
    """One possible truth about the job for each draw, and the sizes seen."""

    log_mean: Floats
    log_spread: Floats
    found_chance: Floats
    comeback_chance: Floats
    other_sizes: Sizes
    found_sizes: Sizes
    comeback_sizes: Sizes


def sizes_seen(costs: pl.Series, weights: Floats) -> Sizes:
    """The costs above nothing, and how much each counts."""
    sizes = costs.fill_null(0.0).to_numpy()
    seen = (sizes > 0) & (weights > 0)
    return sizes[seen], weights[seen]


def sizes_added(some: Sizes, more: Sizes) -> Sizes:
    """Both lots of sizes, each counting what it counts."""
    return np.append(some[0], more[0]), np.append(some[1], more[1])


def sizes_drawn(seen: Sizes, unseen: Floats, rng: np.random.Generator) -> Floats:
    """A size for each place: one of those seen, or the given one until any is seen."""
    sizes, weights = seen
    if not sizes.size:
        return unseen
    return rng.choice(sizes, size=unseen.size, p=weights / weights.sum())


def mean_size(sizes: Sizes, unseen: float) -> float:
    """The mean of the sizes seen, or the given one until any is seen."""
    seen, weights = sizes
    return float(np.average(seen, weights=weights)) if seen.size else unseen
