"""How old is a part that may have been renewed before anybody here looked?"""

from collections.abc import Mapping

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.histories.counts import DAYS_PER_YEAR

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
    untold_odds: float = 1.0,
) -> tuple[NDArray[np.bool_], Floats]:
    """Whether each part is still the original, and how long it has been in service.

    `vehicle_now` and `vehicle_at_first` are the vehicle's age now and when it first came, on
    the scale of `life`. The original failed before the first visit with the chance that its
    curve gives, was renewed then, and whatever was in place has worked since: the two cases are
    weighed by Bayes' rule and one is drawn, with the day of renewal. What was put in has worked
    since by `renewed_life`, its mean over draws, or lives as the original. That nobody told its
    origin is `untold_odds` times as likely of a renewed part as of an original. A second renewal
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
    weights = np.column_stack([as_original, untold_odds * before[:, None] / N_TRIALS * working])
    total = weights.sum(axis=1)
    weights[total <= 0, 1] = 1.0
    edges = np.cumsum(weights, axis=1) / weights.sum(axis=1, keepdims=True)
    chosen = (rng.random(vehicle_now.size)[:, None] > edges).sum(axis=1)
    ages = np.column_stack([vehicle_now, gone])
    return chosen == 0, ages[np.arange(vehicle_now.size), chosen]


def untold_odds(fitments: pl.DataFrame, lives: Mapping[str, WeibullDraws]) -> float:
    """How many times likelier a renewed part is to be left untold by looks than an original.

    Takes the fitments of `Histories` and, in years, the lives of the originals of components that
    wear by age. By those lives so many parts were originals at the first visit and so many had been
    renewed (as Horvitz & Thompson 1952 weigh what is seen by its chance, turned round): what share
    of either looks told. The share of the renewed is drawn towards the other by one part.

    >>> life = {"thermostat": WeibullDraws(np.array([1.0]), np.array([10 / np.log(2)]), "years")}
    >>> seen = pl.DataFrame({"known": [True] * 4 + [False] * 5, "found": [False] * 8 + [True]})
    >>> day = pl.lit("2020-01-01").str.to_date()
    >>> fitments = seen.select(
    ...     component=pl.lit("thermostat"), origin=pl.lit("original"), first_registered=day,
    ...     first_visit=day.dt.offset_by("10y"), known_original_on=pl.when("known").then(day),
    ...     found_renewed_on=pl.when("found").then(day),
    ... )
    >>> round(untold_odds(fitments, life), 2)
    3.68
    """
    originals, renewed, told, found = 0.0, 0.0, 0, 0
    firsts = fitments.filter(pl.col("origin") == "original")
    for component, life in lives.items():
        ours = firsts.filter(component=component)
        age = (ours["first_visit"] - ours["first_registered"]).dt.total_days() / DAYS_PER_YEAR
        lasted = float(mean_survival(life, age.to_numpy()).sum()) if ours.height else 0.0
        originals, renewed = originals + lasted, renewed + ours.height - lasted
        known = ours["known_original_on"].is_not_null()
        told += int(known.sum())
        found += int((ours["found_renewed_on"].is_not_null() & ~known).sum())
    untold = max(originals - told, 0.0) + 0.5
    share = untold / (originals + 1)
    return (max(renewed - found, 0.0) + share) / (renewed + 1) / share


def mean_survival(life: WeibullDraws, ages: Floats) -> Floats:
    """The chance to have reached each age, the mean over some of the draws.

    Of many ages it is read off between the points of a fine grid.
    """
    some = life.thinned(N_CURVES)
    if ages.size <= N_POINTS:
        return np.asarray(some.survival(ages.ravel()).mean(axis=0).reshape(ages.shape))
    grid = np.linspace(0.0, float(ages.max()), N_POINTS)
    return np.asarray(np.interp(ages, grid, some.survival(grid).mean(axis=0)))
