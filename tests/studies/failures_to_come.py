"""How often the interval of failures to come holds them, at a nominal 90 %.

Twice: in workshops of one known Weibull, where parts come in old and are watched for some years,
and every count of the year to come is weighed by its true chance; and in the whole of the
invented world, where the forecast is that of `wornby expect` and the year after the close is
lived by its own fleet, with those who stay away, parts of unknown age and renewals before the
failure.

A count is a whole number, so an interval of counts holds 90 % at the least: with one failure
expected, 0 to 3 holds 98 %. What it holds in truth is therefore no measure of the forecast. The
honest one is the randomised interval: each end is taken in with the chance that brings its tail
to 5 % (Dunn & Smyth 1996 randomise residuals of counts likewise); a right forecast holds 90 % of
it whatever the counts. It is averaged over that chance here, not drawn. `plain` is the share of
counts inside the printed interval, `stated` the chance that the forecast itself gives to it.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray
from studies.lived_on import LivedOn

from wornby.curves.few_failures import weibull_posterior
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.expected import ExpectedFailures, expected_failures
from wornby.errors import EstimateError
from wornby.histories.counts import Counts
from wornby.reports.forecasts import forecast

CELLS = [(shape, vehicles) for shape in (1.2, 2.5, 4.0) for vehicles in (100, 300, 1000)]
SCALE, RETURNS = 12.0, 0.8


@dataclass(frozen=True, slots=True)
class Judged:
    """One forecast against what came: within the interval, what it stated, randomised, above."""

    plain: float
    stated: float
    randomised: float
    above: float


def judged(told: ExpectedFailures, seen: int) -> Judged:
    """Whether a count lay inside, and how much of it in the randomised interval."""
    at_most = np.cumsum(told.chances)
    below, upto = (float(at_most[n]) if n >= 0 else 0.0 for n in capped(told, seen))
    tail = (1 - told.confidence) / 2
    inside = min(upto, 1 - tail) - max(below, tail)
    over = upto - max(below, 1 - tail)
    chance = max(upto - below, 1e-300)
    return Judged(
        plain=float(told.lower <= seen <= told.upper),
        stated=float(told.chances[told.lower : told.upper + 1].sum()),
        randomised=min(max(inside / chance, 0.0), 1.0),
        above=min(max(over / chance, 0.0), 1.0),
    )


def capped(told: ExpectedFailures, seen: int) -> tuple[int, int]:
    """The counts below and up to the one seen, within those that have a chance."""
    last = len(told.chances) - 1
    return min(seen - 1, last), min(seen, last)


def of_one_weibull(shape: float, vehicles: int, rng: np.random.Generator) -> Judged:
    """The forecast of the next year from one kind of part's records, against all that may come."""
    entry = rng.uniform(0, 10, vehicles)
    watched = entry + rng.uniform(1, 8, vehicles)
    spent = (entry / SCALE) ** shape + rng.exponential(size=vehicles)
    life = SCALE * spent ** (1 / shape)
    failed = life <= watched
    end = np.minimum(life, watched)
    table = pl.DataFrame(
        {"entry": entry, "lower": end, "upper": np.where(failed, end, np.inf), "count": 1.0}
    )
    counts = Counts(table, "years", "part", "as watched")
    draws = weibull_posterior(counts, prior=CAR_COMPONENT).draws(rng, 2000)
    ages = np.concatenate([watched[~failed], (watched - life)[failed]])
    truth = WeibullDraws(np.array([shape]), np.array([SCALE]), "years")
    told, lived = (
        expected_failures(of, ages, horizon_years=1.0, return_chance=RETURNS)
        for of in (draws, truth)
    )
    return averaged(told, lived.chances)


def averaged(told: ExpectedFailures, chances: NDArray[np.float64]) -> Judged:
    """A forecast against every count that may come, each with its true chance."""
    each = [judged(told, n) for n in range(chances.size)]
    names = Judged.__slots__
    return Judged(*(float(chances @ [getattr(one, name) for one in each]) for name in names))


def of_the_world(lived: LivedOn) -> list[dict[str, Any]]:
    """Every component's forecast for the year after the close, against what came in."""
    rows = []
    for component in lived.workshop.catalogue.components.values():
        try:
            told = forecast(lived.workshop, component, horizon_years=1.0).failures
        except EstimateError:
            continue
        one = judged(told, lived.came.get(component.name, 0))
        rows.append({"component": component.name, "expected": told.mean} | asdict_of(one))
    return rows


def asdict_of(one: Judged) -> dict[str, Any]:
    """The measures by name."""
    return {name: getattr(one, name) for name in one.__slots__}
