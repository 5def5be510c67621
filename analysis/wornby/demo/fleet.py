"""The vans and the part now in each place: drawn new, failing, renewed."""

from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import ndtr

from wornby.demo.parameters import Grade, TrueLife
from wornby.demo.places import Places, World

DAYS_PER_YEAR = 365.25
GENUINE = 0
Array = NDArray[np.float64]
Numbers = NDArray[np.int64]


@dataclass(frozen=True, eq=False, slots=True)
class Fleet:
    """Vans by row, places by column; days are counted from 1970-01-01.

    Made for one run and renewed in place: `fit` puts new parts in. `life` is in years or miles,
    or the blend of both that the place wears by. `frailty` multiplies the hazard of a van's
    parts; `noticed` says whether the owner will notice the failure of the part now in place.
    """

    registered: Array
    version: Numbers
    miles_per_year: Array
    frailty: Array
    fitted: Array
    life: Array
    degrades: Array
    fails: Array
    noticed: NDArray[np.bool_]
    original: NDArray[np.bool_]
    grade: Numbers

    def rows(self, who: NDArray[np.bool_] | Numbers) -> "Fleet":
        """Some of the vans."""
        return Fleet(*(getattr(self, name)[who] for name in self.__slots__))

    def worn_share(self, day: Array, places: Places) -> Array:
        """Age or distance of each part now in place, as a share of its component's scale."""
        years = (day[:, None] - self.fitted) / DAYS_PER_YEAR
        miles = years * self.miles_per_year[:, None]
        return np.where(places.by_distance, miles, years) / places.scale

    def brings(self) -> Array:
        """The day on which each part's failure calls for a visit; never if nobody notices it."""
        return np.where(self.noticed, self.fails, np.inf)


def day_number(day: date) -> float:
    """Days from 1970-01-01."""
    return float((day - date(1970, 1, 1)).days)


def epoch_day(year: int | Numbers, share: float | Array = 0.0) -> Array:
    """Days from 1970-01-01 to a share of the way through a year."""
    start = np.asarray(year - 1970, dtype="datetime64[Y]").astype("datetime64[D]")
    return np.asarray(np.floor(start.astype(np.float64) + 365 * np.asarray(share)))


def happens(
    chance: float, shape: int | tuple[int, ...], rng: np.random.Generator
) -> NDArray[np.bool_]:
    """Which of many happen, each with the chance; a chance of 0 draws no random number.

    So a world in which a habit is unknown stays the same, to the byte, when the habit is added.
    """
    return rng.random(shape) < chance if chance else np.zeros(shape, dtype=bool)


def frailties(n: int, world: World, rng: np.random.Generator) -> Array:
    """The factor on the hazard of each of n vans, of mean 1; exactly 1 without variance."""
    law, variance = world.parameters.frailty_law, world.parameters.frailty_variance
    if variance == 0:
        return np.ones(n)
    if law == "gamma":
        return rng.gamma(1 / variance, variance, n)
    if law == "lognormal":
        spread = np.log1p(variance)
        return rng.lognormal(-spread / 2, np.sqrt(spread), n)
    raise ValueError(f"no frailty law {law!r}; use gamma or lognormal")


def new_fleet(n: int, *, world: World, rng: np.random.Generator) -> Fleet:
    """Vans as they left the works, every part an original."""
    parameters, places = world.parameters, world.places
    model_year = rng.integers(parameters.first_model_year, parameters.last_model_year + 1, n)
    registered = epoch_day(model_year, rng.random(n))
    shares = np.array(list(parameters.version_shares.values()))
    log_rate = parameters.sd_log_miles * rng.standard_normal(n)
    rate = parameters.median_miles_per_year * np.exp(log_rate)
    frailty = frailties(n, world, rng)
    life = original_lives(n, places, rng=rng, frailty=np.where(places.frail, frailty[:, None], 1.0))
    fitted = np.repeat(registered[:, None], len(places.names), axis=1)
    degrades, fails = ends(
        fitted, life, np.arange(len(places.names)), rate=rate[:, None], places=places, rng=rng
    )
    return Fleet(
        registered=registered,
        version=rng.choice(len(shares), n, p=shares / shares.sum()),
        miles_per_year=rate,
        frailty=frailty,
        fitted=fitted,
        life=life,
        degrades=degrades,
        fails=fails,
        noticed=~happens(parameters.quiet_failures, life.shape, rng),
        original=np.ones(life.shape, dtype=bool),
        grade=np.full(life.shape, GENUINE),
    )


def original_lives(
    n: int, places: Places, *, rng: np.random.Generator, frailty: Array | float = 1.0
) -> Array:
    """Weibull lives of original parts, left and right tied by a Gaussian copula.

    `frailty` multiplies the hazard.
    """
    shared = rng.standard_normal((n, int(places.component.max()) + 1))[:, places.component]
    own = rng.standard_normal((n, len(places.names)))
    tie = np.sqrt(places.side_correlation)
    chance = ndtr(tie * shared + np.sqrt(1 - places.side_correlation) * own)
    return np.asarray(places.scale * (-np.log(chance) / frailty) ** (1 / places.shape))


def renewed_life(component: TrueLife, grade: Grade) -> tuple[float, float]:
    """Weibull shape and scale of a renewed part: by its grade against the original."""
    shape = component.shape if grade.shape is None else grade.shape
    return shape, component.scale_value * grade.scale_factor


def renewed_lives(
    place: Numbers,
    grade: Numbers,
    *,
    world: World,
    rng: np.random.Generator,
    frailty: Array | float = 1.0,
) -> Array:
    """Weibull lives of renewed parts, each on its own: a pair fitted together is not tied.

    `frailty` multiplies the hazard.
    """
    lives = [world.parameters.lives[name] for name in world.places.names]
    grades = world.parameters.grades.values()
    shape, scale = np.array([[renewed_life(life, g) for g in grades] for life in lives])[
        place, grade
    ].T
    gathered = rng.standard_exponential(place.size) / frailty
    return np.asarray(scale * gathered ** (1 / shape))


def ends(
    fitted: Array,
    life: Array,
    place: Numbers,
    *,
    rate: Array,
    places: Places,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    """The day from which a part shows wear, and the day it fails."""
    years = life / places.wear_per_year(place, rate)
    warning = np.minimum(places.degraded_years[place] * rng.standard_exponential(life.shape), years)
    return fitted + (years - warning) * DAYS_PER_YEAR, fitted + years * DAYS_PER_YEAR


def fit(
    fleet: Fleet,
    at: tuple[Numbers, Numbers],
    day: Array,
    *,
    grade: Numbers,
    world: World,
    rng: np.random.Generator,
) -> None:
    """Put a renewed part of the given grade in each named place."""
    who, place = at
    frailty = np.where(world.places.frail[place], fleet.frailty[who], 1.0)
    fleet.life[at] = renewed_lives(place, grade, world=world, rng=rng, frailty=frailty)
    fleet.fitted[at], fleet.grade[at], fleet.original[at] = day, grade, False
    rate = fleet.miles_per_year[who]
    fleet.degrades[at], fleet.fails[at] = ends(
        day, fleet.life[at], place, rate=rate, places=world.places, rng=rng
    )
    fleet.noticed[at] = ~happens(world.parameters.quiet_failures, place.size, rng)


def grades_fitted(n: int, *, world: World, rng: np.random.Generator) -> Numbers:
    """The grade of each part fitted, as a number in the order of `parameters.grades`."""
    shares = np.array([grade.share for grade in world.parameters.grades.values()])
    return rng.choice(len(shares), n, p=shares / shares.sum())


def fitments(fleet: Fleet, at: tuple[Numbers, Numbers]) -> pl.DataFrame:
    """The fitments now in the named places, one row each."""
    return pl.DataFrame(
        {
            "vehicle": at[0],
            "place": at[1],
            "fitted": fleet.fitted[at],
            "original": fleet.original[at],
            "grade": fleet.grade[at],
            "life": fleet.life[at],
        }
    )


def live_elsewhere(
    fleet: Fleet, until: Array, *, world: World, rng: np.random.Generator
) -> pl.DataFrame:
    """Let every van live to its day: what fails before is renewed then, out of sight."""
    ended = [
        fitments(fleet, (np.zeros(0, np.int64), np.zeros(0, np.int64))).with_columns(
            ended=pl.lit(0.0)
        )
    ]
    while (fleet.fails < until[:, None]).any():
        who, place = np.nonzero(fleet.fails < until[:, None])
        day = np.minimum(np.ceil(fleet.fails[who, place]), until[who])
        ended.append(fitments(fleet, (who, place)).with_columns(ended=day))
        grade = grades_fitted(who.size, world=world, rng=rng)
        fit(fleet, (who, place), day, grade=grade, world=world, rng=rng)
    return pl.concat(ended).with_columns(how=pl.lit("failure elsewhere"))
