"""How old is a part that may have been renewed before anybody here looked?"""

import numpy as np
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws

N_TRIALS = 40
N_CURVES = 200
N_POINTS = 501
Floats = NDArray[np.float64]


def with_ages(
    life: WeibullDraws,
    *,
    vehicle_now: Floats,
    vehicle_at_first: Floats,
    surely_renewed: NDArray[np.bool_],
    rng: np.random.Generator,
    renewed_life: WeibullDraws | None = None,
) -> tuple[NDArray[np.bool_], Floats]:
    """Whether each part is still the original, and how long it has been in service.

    `vehicle_now` and `vehicle_at_first` are the vehicle's age now and when it first came, on
    the scale of `life`. The original failed before the first visit with the chance that its
    curve gives, was renewed then, and whatever was in place has worked since: the two cases are
    weighed by Bayes' rule and one is drawn, with the day of renewal. What was put in has worked
    since by `renewed_life`, its mean over draws, or lives as the original. A second renewal
    elsewhere is not looked for.

    >>> life = WeibullDraws(np.array([4.0]), np.array([10.0]), "years")
    >>> original, age = with_ages(
    ...     life, vehicle_now=np.array([3.0, 20.0]), vehicle_at_first=np.array([1.0, 15.0]),
    ...     surely_renewed=np.array([False, False]), rng=np.random.default_rng(1),
    ... )
    >>> original.tolist()
    [True, False]
    """
    shape, scale = float(np.median(life.shape)), float(np.median(life.scale))
    before = -np.expm1(-((vehicle_at_first / scale) ** shape))
    uniform = rng.random((vehicle_now.size, N_TRIALS))
    renewed_at = scale * (-np.log1p(-uniform * before[:, None])) ** (1 / shape)
    gone = np.maximum(vehicle_now[:, None] - renewed_at, 0.0)
    working = (
        np.exp(-((gone / scale) ** shape))
        if renewed_life is None
        else mean_survival(renewed_life, gone)
    )
    as_original = np.exp(-((vehicle_now / scale) ** shape)) * ~surely_renewed
    weights = np.column_stack([as_original, before[:, None] / N_TRIALS * working])
    total = weights.sum(axis=1)
    weights[total <= 0, 1] = 1.0
    edges = np.cumsum(weights, axis=1) / weights.sum(axis=1, keepdims=True)
    chosen = (rng.random(vehicle_now.size)[:, None] > edges).sum(axis=1)
    ages = np.column_stack([vehicle_now, gone])
    return chosen == 0, ages[np.arange(vehicle_now.size), chosen]


def given_working(life: WeibullDraws, ages: Floats, rng: np.random.Generator) -> WeibullDraws:
    """The draws again, those preferred under which parts of these ages still work.

    The fit knows nothing of parts of unknown age. Without this a curve by which they would
    have failed long ago expects all of them to fail tomorrow.
    """
    log_weight = -((ages[None, :] / life.scale[:, None]) ** life.shape[:, None]).sum(axis=1)
    weight = np.exp(log_weight - log_weight.max())
    pick = rng.choice(weight.size, size=weight.size, p=weight / weight.sum())
    return WeibullDraws(life.shape[pick], life.scale[pick], life.unit)


def mean_survival(life: WeibullDraws, ages: Floats) -> Floats:
    """The chance to have reached each age, the mean over some of the draws.

    Of many ages it is read off between the points of a fine grid.
    """
    some = life.thinned(N_CURVES)
    if ages.size <= N_POINTS:
        return np.asarray(some.survival(ages.ravel()).mean(axis=0).reshape(ages.shape))
    grid = np.linspace(0.0, float(ages.max()), N_POINTS)
    return np.asarray(np.interp(ages, grid, some.survival(grid).mean(axis=0)))
