"""What it says of a curve that nobody has come with a failure since the last visits."""

import numpy as np
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws

Floats = NDArray[np.float64]


def given_no_call(
    life: WeibullDraws,
    ages: Floats,
    *,
    since_visit: Floats,
    coming: Floats,
    rng: np.random.Generator,
) -> WeibullDraws:
    """The draws again, those preferred under which no part of these would have failed of late.

    A watch that ends at the last visit leaves out the time since, in which a failure would have
    brought in the vehicles that still come; what was left out is failures' time without a failure,
    at the highest ages. Each part of an age now counts it, `since_visit` on the scale of the life,
    with the chance `coming` that its vehicle still comes: the likelihood of that time without a
    failure, by which the draws are resampled (sampling importance resampling, Rubin 1988).

    >>> two = WeibullDraws(np.array([1.0, 1.0]), np.array([5.0, 50.0]), "years")
    >>> many = WeibullDraws(np.tile(two.shape, 500), np.tile(two.scale, 500), "years")
    >>> year = np.ones(10)
    >>> told = given_no_call(
    ...     many, 9 * year, since_visit=year, coming=year, rng=np.random.default_rng(1)
    ... )
    >>> round(float(np.mean(told.scale == 50)), 2)
    0.86
    """
    shape, scale = life.shape[:, None], life.scale[:, None]
    before = np.maximum(ages - since_visit, 0.0)
    gathered = (ages / scale) ** shape - (before / scale) ** shape
    log_weight = -(gathered @ coming)
    weight = np.exp(log_weight - log_weight.max())
    pick = rng.choice(weight.size, size=weight.size, p=weight / weight.sum())
    return WeibullDraws(life.shape[pick], life.scale[pick], life.unit)
