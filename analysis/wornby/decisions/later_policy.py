"""From what age a neighbour is renewed at a later opening, given the time that is left."""

from dataclasses import dataclass

import numpy as np

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.open_job import Floats, Neighbour, OpenJob
from wornby.decisions.openings import LaterPolicy

TIME_STEPS = 48
MOST_DRAWS = 200

ONLY_THE_FAILED = "later openings renew only the failed part"
PAST_A_THRESHOLD = (
    "later openings renew the failed part and each neighbour past an age, which depends on the "
    "time left"
)


def only_the_failed(job: OpenJob) -> LaterPolicy:
    """Later openings renew what failed and nothing else."""
    return LaterPolicy(ONLY_THE_FAILED, np.full((len(job.neighbours), 2, 2), np.inf))


def past_a_threshold(job: OpenJob) -> LaterPolicy:
    """Later openings also renew neighbours past their threshold age.

    Each component is looked at by itself, on its predictive curve: its own failures cost what
    they cost, the others open the group by chance at the rate at which they are expected to
    fail, and at each opening it is renewed where that is cheaper to the horizon. The
    thresholds are those of this programme, solved from the horizon backward.
    """
    expected = [_expected_failures(job, neighbour) for neighbour in job.neighbours]
    tables = []
    for c, neighbour in enumerate(job.neighbours):
        others = sum(expected) - expected[c]
        renewed, in_place = _programmes(
            neighbour,
            width=job.horizon_years / TIME_STEPS,
            failure=float(job.failure_costs[c]),
            renewal=float(job.renewal_costs[c]),
            opening_chance=float(-np.expm1(-others / TIME_STEPS)),
            step_counts_for=float(job.counts_for(np.array(job.horizon_years / TIME_STEPS))),
        )
        tables.append([in_place.thresholds, renewed.thresholds])
    return LaterPolicy(PAST_A_THRESHOLD, np.array(tables))


def old_age(life: WeibullDraws) -> float:
    """The age that about one part in a hundred reaches."""
    shape, scale = float(np.median(life.shape)), float(np.median(life.scale))
    return float(scale * np.log(100.0) ** (1 / shape))


@dataclass(frozen=True, eq=False, slots=True)
class _Programme:
    """One part by itself: cost to the horizon by age now; of a new one, and thresholds, by step.

    `fresh` is the cost of a part renewed halfway through a step, `new` at its beginning.
    `thresholds` counts the steps that are left.
    """

    by_age: Floats
    fresh: Floats
    new: Floats
    thresholds: Floats


def _expected_failures(job: OpenJob, neighbour: Neighbour) -> float:
    width = job.horizon_years / TIME_STEPS
    renewed, in_place = _programmes(
        neighbour,
        width=width,
        failure=1.0,
        renewal=np.inf,
        opening_chance=0.0,
        step_counts_for=1.0,
    )
    if neighbour.component == job.failed:
        return float(renewed.new[0])
    ages = np.arange(in_place.by_age.size) * width
    return float(np.interp(neighbour.age_years, ages, in_place.by_age))


def _programmes(
    neighbour: Neighbour,
    *,
    width: float,
    failure: float,
    renewal: float,
    opening_chance: float,
    step_counts_for: float,
) -> tuple[_Programme, _Programme]:
    """The programme of the renewed part, and of the part in place that it succeeds.

    Money counts for `step_counts_for` of itself a step later; bills fall halfway through one.
    """
    oldest = max(old_age(neighbour.life), old_age(neighbour.renewed_life), neighbour.age_years)
    steps = np.arange(int(oldest / width) + TIME_STEPS + 2, dtype=np.float64)
    ages = steps * width
    solved: list[_Programme] = []
    for life in (neighbour.renewed_life, neighbour.life):
        solved.append(
            _programme(
                _failing(life, ages),
                ages,
                prices=(failure, renewal),
                opening_chance=opening_chance,
                step_counts_for=step_counts_for,
                successor=solved[0] if solved else None,
            )
        )
    return solved[0], solved[1]


def _failing(life: WeibullDraws, ages: Floats) -> Floats:
    """Predictive chance of failing in the step after each age; certain where none is left."""
    pick = np.linspace(0, life.shape.size - 1, min(life.shape.size, MOST_DRAWS)).astype(np.intp)
    draws = WeibullDraws(life.shape[pick], life.scale[pick], life.unit)
    left = np.append(draws.survival(ages).mean(axis=0), 0.0)
    return np.where(left[:-1] > 0, 1 - left[1:] / np.maximum(left[:-1], 1e-300), 1.0)


def _programme(
    failing: Floats,
    ages: Floats,
    *,
    prices: tuple[float, float],
    opening_chance: float,
    step_counts_for: float,
    successor: _Programme | None,
) -> _Programme:
    failure, renewal = (price * step_counts_for**0.5 for price in prices)
    value = np.zeros_like(ages)
    fresh, new = np.zeros((2, TIME_STEPS + 1))
    thresholds = np.full(TIME_STEPS + 1, np.inf)
    for step in reversed(range(TIME_STEPS)):
        later = step_counts_for * value
        after = (
            step_counts_for * successor.fresh[step + 1] if successor else (later[0] + later[1]) / 2
        )
        kept = np.append(later[1:], later[-1])
        opened = np.minimum(kept, renewal + after)
        unfailed = kept + opening_chance * (opened - kept)
        value = unfailed + failing * (failure + after - unfailed)
        fresh[step], new[step] = (value[0] + value[1]) / 2, value[0]
        begins = successor.new[step] if successor else value[0]
        thresholds[TIME_STEPS - step] = _first_crossing(ages, value - begins - prices[1])
    return _Programme(value, fresh, new, thresholds)


def _first_crossing(ages: Floats, gain: Floats) -> float:
    above = gain > 0
    first = int(above.argmax())
    if not above[first]:
        return float("inf")
    if first == 0:
        return 0.0
    share = -gain[first - 1] / (gain[first] - gain[first - 1])
    return float(ages[first - 1] + share * (ages[first] - ages[first - 1]))
