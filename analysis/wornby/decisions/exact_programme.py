"""The exact cost of every bundle for known curves: a dynamic programme over openings to come."""

from dataclasses import replace
from functools import reduce
from typing import Literal

import numpy as np
import polars as pl

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.bundle_search import NOTHING_MORE
from wornby.decisions.later_policy import only_the_failed
from wornby.decisions.open_job import Floats, Neighbour, OpenJob, bundles
from wornby.decisions.openings import horizon_costs
from wornby.decisions.paths import sampled_paths
from wornby.errors import EstimateError

MOST_COMPONENTS = 4
EXACT_STEPS = {1: 96, 2: 60, 3: 30, 4: 18}
"""Steps to the horizon, and twice as many, by the number of components."""

Later = Literal["renew what is best", "renew only the failed part"]

IN_PLACE, RENEWED_NOW = 0, 1


def opening_programme(job: OpenJob, *, steps: int, later: Later) -> Floats:
    """Least expected cost to the horizon of each bundle, in the order of `open_job.bundles`.

    For at most four components with known curves (one draw each). Time runs in equal steps; a
    failed part is paid for by itself and is renewed halfway through its step, as is each
    neighbour that this opening renews. What is renewed at an opening is chosen with everything
    that is known then, so no rule for later openings can cost less ("renew what is best").
    The error falls with the length of a step: `extrapolated_programme` removes most of it.
    """
    _check(job, steps)
    k = len(job.components)
    value = np.zeros((steps + 2,) * k)
    counts_for = float(job.counts_for(np.array(job.horizon_years / steps)))
    for step in reversed(range(steps)):
        failing = [_failing(n, step, job.horizon_years / steps) for n in job.neighbours]
        value = _one_step_earlier(value, failing, job=job, later=later, counts_for=counts_for)
    choices = bundles(job)
    new = choices | (np.array(job.components) == job.failed)
    return np.asarray(value[tuple(new.T.astype(np.intp))] + choices @ job.renewal_costs)


def extrapolated_programme(job: OpenJob, *, steps: int, later: Later) -> Floats:
    """The programme at `steps` and twice as many, extrapolated to steps of no length."""
    coarse = opening_programme(job, steps=steps, later=later)
    return np.asarray(2 * opening_programme(job, steps=2 * steps, later=later) - coarse)


def exact_beside_simulation(
    job: OpenJob, *, n_paths: int, rng: np.random.Generator
) -> pl.DataFrame:
    """Each bundle by the programme and by simulation, for the middle curve of each part.

    Columns renew_now, exact_best_net, exact_failed_only_net, simulated_failed_only_net and its
    standard_error_net, the least exact cost first.
    """
    known = _middle(job)
    choices = bundles(known)
    rule = only_the_failed(known)
    paths = sampled_paths(known, n_paths=n_paths, rng=rng)
    ages = np.tile(known.ages, (len(choices), 1))
    cost, _ = horizon_costs(known, paths, rule, bundles=choices, ages=ages)
    steps = EXACT_STEPS[len(job.components)]
    best, failed_only = (
        extrapolated_programme(known, steps=steps, later=later)
        for later in ("renew what is best", "renew only the failed part")
    )
    names = np.array(job.components)
    return pl.DataFrame(
        {
            "renew_now": [" + ".join(names[row]) or NOTHING_MORE for row in choices],
            "exact_best_net": best,
            "exact_failed_only_net": failed_only,
            "simulated_failed_only_net": cost.mean(axis=1),
            "standard_error_net": cost.std(axis=1, ddof=1) / np.sqrt(n_paths),
        }
    ).sort("exact_best_net", maintain_order=True)


def _middle(job: OpenJob) -> OpenJob:
    """The job with one curve a part: the medians of its shapes and scales."""
    if len(job.components) > MOST_COMPONENTS:
        raise ValueError(
            f"{job.group.name}: {len(job.components)} places, wanted at most {MOST_COMPONENTS} for "
            "the exact programme"
        )

    def middle(life: WeibullDraws) -> WeibullDraws:
        shape, scale = np.median(life.shape), np.median(life.scale)
        return WeibullDraws(np.array([shape]), np.array([scale]), life.unit)

    return replace(
        job,
        neighbours=tuple(
            replace(n, life=middle(n.life), renewed_life=middle(n.renewed_life))
            for n in job.neighbours
        ),
    )


def _failing(neighbour: Neighbour, step: int, width: float) -> Floats:
    """Chance of failing in the step: part in place, renewed now, renewed in step 0, 1, ..."""
    since = np.concatenate([[0.0, 0.0], np.arange(step) + 0.5])
    start, end = (step - since) * width, (step + 1 - since) * width
    start[2:][-1:] = 0.0
    start[IN_PLACE] += neighbour.age_years
    end[IN_PLACE] += neighbour.age_years
    law = neighbour.renewed_life
    shape, scale = np.full(step + 2, law.shape[0]), np.full(step + 2, law.scale[0])
    shape[IN_PLACE], scale[IN_PLACE] = neighbour.life.shape[0], neighbour.life.scale[0]
    return np.asarray(-np.expm1((start / scale) ** shape - (end / scale) ** shape))


def _one_step_earlier(
    after: Floats, failing: list[Floats], *, job: OpenJob, later: Later, counts_for: float
) -> Floats:
    """Expected cost from the start of a step, over which parts may fail.

    What is paid in the step falls halfway through it.

    Subsets of components are bit masks. The expectation is taken over one component at a
    time, so that only the case in which nothing fails needs arrays of full size.
    """
    k = len(failing)
    everything = 2**k
    later_on = after if counts_for == 1 else counts_for * after
    reset = [_reset(later_on, subset) for subset in range(everything)]
    cost = [
        reset[0]
        if failed == 0
        else _best_renewal(reset, failed, job=job, later=later, paid_counts_for=counts_for**0.5)
        for failed in range(everything)
    ]
    for c in reversed(range(k)):
        chance = failing[c].reshape([-1 if axis == c else 1 for axis in range(k)])
        cost = [_either(chance, cost[failed | 1 << c], cost[failed]) for failed in range(1 << c)]
    return cost[0]


def _either(chance: Floats, if_so: Floats, if_not: Floats) -> Floats:
    """The mean of two costs, with one array of full size made and no more."""
    mean = (1 - chance) * if_not
    mean += chance * if_so
    return np.asarray(mean)


def _reset(after: Floats, subset: int) -> Floats:
    """Value after the step when the subset was renewed in it: the last state of each axis."""
    parts = [slice(-1, None) if subset >> c & 1 else slice(None, -1) for c in range(after.ndim)]
    return after[tuple(parts)]


def _best_renewal(
    reset: list[Floats], failed: int, *, job: OpenJob, later: Later, paid_counts_for: float
) -> Floats:
    paid = paid_counts_for * sum(
        cost for c, cost in enumerate(job.failure_costs) if failed >> c & 1
    )
    if later == "renew only the failed part":
        return np.asarray(paid + reset[failed])
    options = [
        reset[subset]
        + paid_counts_for * sum(cost for c, cost in enumerate(job.renewal_costs) if extra >> c & 1)
        for subset in range(len(reset))
        if subset & failed == failed and (extra := subset ^ failed) >= 0
    ]
    return np.asarray(paid + reduce(np.minimum, options))


def _check(job: OpenJob, steps: int) -> None:
    if steps < 1:
        raise ValueError(f"{job.group.name}: {steps} steps, wanted 1 or more")
    if len(job.components) > MOST_COMPONENTS:
        raise ValueError(
            f"{job.group.name}: {len(job.components)} components, wanted at most {MOST_COMPONENTS}"
        )
    for n in job.neighbours:
        draws = max(n.life.shape.size, n.renewed_life.shape.size)
        if draws > 1:
            raise EstimateError(
                f"{n.component}: {draws} draws of its curve, wanted one: the programme is for "
                "known curves"
            )
