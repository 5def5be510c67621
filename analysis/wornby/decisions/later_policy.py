"""From what age a neighbour is renewed at a later opening, given the time that is left."""

import numpy as np
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.open_job import OpenJob
from wornby.decisions.openings import LaterPolicy

TIME_STEPS = 24
AGE_STEPS = 64
MOST_DRAWS = 200

ONLY_THE_FAILED = "later openings renew only the failed part"
PAST_A_THRESHOLD = (
    "later openings renew the failed part and each neighbour past the age from which its failure, "
    "by its chance in the time left, costs more than renewing it then"
)


def only_the_failed(n_components: int) -> LaterPolicy:
    """Later openings renew what failed and nothing else."""
    return LaterPolicy(ONLY_THE_FAILED, np.full((n_components, 2, 2), np.inf))


def past_a_threshold(job: OpenJob) -> LaterPolicy:
    """Later openings also renew neighbours past their threshold age.

    The threshold looks one renewal ahead: (chance that the part fails in the time left, less
    the chance that a new one does) x cost of a failure > cost of renewal, chances averaged
    over the draws. It falls as the horizon is far and is infinite at the horizon.
    """
    tables = [
        [
            _thresholds(
                life,
                neighbour.renewed_life,
                worth=float(renewal / failure) if failure > 0 else np.inf,
                horizon_years=job.horizon_years,
            )
            for life in (neighbour.life, neighbour.renewed_life)
        ]
        for neighbour, renewal, failure in zip(
            job.neighbours, job.renewal_costs, job.failure_costs, strict=True
        )
    ]
    return LaterPolicy(PAST_A_THRESHOLD, np.array(tables))


def old_age(life: WeibullDraws) -> float:
    """The age that about one part in a hundred reaches."""
    shape, scale = float(np.median(life.shape)), float(np.median(life.scale))
    return float(scale * np.log(100.0) ** (1 / shape))


def _thresholds(
    life: WeibullDraws, renewed_life: WeibullDraws, *, worth: float, horizon_years: float
) -> NDArray[np.float64]:
    ages = np.linspace(0, old_age(life), AGE_STEPS)
    times = np.linspace(0, horizon_years, TIME_STEPS + 1)
    gain = _chance(life, ages, times) - _chance(renewed_life, ages[:1], times) - worth
    pays = gain > 0
    first = pays.argmax(axis=0)
    before = np.maximum(first - 1, 0)
    column = np.arange(times.size)
    low, high = gain[before, column], gain[first, column]
    share = np.where(first > 0, -low / np.where(first > 0, high - low, 1.0), 0.0)
    crossing = ages[before] + share * (ages[first] - ages[before])
    crossing[0] = np.inf
    return np.where(pays.any(axis=0), crossing, np.inf)


def _chance(
    life: WeibullDraws, ages: NDArray[np.float64], times: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Mean chance over the draws of failing within each time from each age: age, time."""
    pick = np.linspace(0, life.shape.size - 1, min(life.shape.size, MOST_DRAWS)).astype(np.intp)
    shape, scale = life.shape[pick], life.scale[pick]
    now = (ages[:, None, None] / scale) ** shape
    then = ((ages[:, None, None] + times[None, :, None]) / scale) ** shape
    return np.asarray(-np.expm1(now - then).mean(axis=2))
