"""The bundles of renewals that an open job may choose from, all of them or a search among them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.decisions.open_job import (
    MOST_IN_BUNDLES,
    MOST_NEIGHBOURS,
    Bools,
    Floats,
    OpenJob,
    allowed,
    bundles,
)
from wornby.decisions.openings import LaterPolicy, horizon_costs
from wornby.decisions.paths import Paths

NOTHING_MORE = "nothing more"
SEARCH_PATHS = 2000


def choices_of(job: OpenJob, paths: Paths, rules: Sequence[LaterPolicy]) -> Bools:
    """The bundles to price: nothing more first, everything last.

    Up to six components all bundles are; beyond, those that a climb from the threshold ages
    ends in under each rule for later openings, with all that differ from them by one component.
    """
    k = len(job.components)
    if k <= MOST_IN_BUNDLES:
        return bundles(job)
    if k > MOST_NEIGHBOURS:
        raise ValueError(
            f"{job.group.name}: {k} components, wanted at most {MOST_NEIGHBOURS} behind one access"
        )
    few = _thinned(paths, SEARCH_PATHS)
    found = np.vstack([_around(job, _climb(job, few, rule)) for rule in rules])
    nothing, everything = np.zeros(k, dtype=np.bool_), _optional(job)
    plain = (found == nothing).all(axis=1) | (found == everything).all(axis=1)
    return np.vstack([nothing, np.unique(found[~plain], axis=0), everything])


def _climb(job: OpenJob, paths: Paths, rule: LaterPolicy) -> Bools:
    """From what is past its threshold age, one component more or less at a time."""
    at = (job.ages >= rule.thresholds[:, 0, -1]) & _optional(job)
    while True:
        near = _around(job, at)
        ages = np.tile(job.ages, (len(near), 1))
        cost, _ = horizon_costs(job, paths, rule, bundles=near, ages=ages)
        expected = np.where(allowed(job, near), cost.mean(axis=1), np.inf)
        best = near[int(expected.argmin())]
        if expected.min() >= expected[(near == at).all(axis=1)][0]:
            return at
        at = best


def _around(job: OpenJob, at: Bools) -> Bools:
    """The bundle, those that differ by one component, and both with what safety asks for."""
    one = np.eye(at.size, dtype=np.bool_)[_optional(job)]
    must = np.array([n.costs.safety and n.component in job.degraded for n in job.neighbours])
    near = np.vstack([at, at ^ one])
    return np.unique(np.vstack([near, (near | must) & _optional(job)]), axis=0)


def _optional(job: OpenJob) -> Bools:
    """Everything but what failed, which is renewed anyway."""
    return np.array([name != job.failed for name in job.components], dtype=np.bool_)


def _thinned(paths: Paths, n: int) -> Paths:
    def some(values: Floats | None) -> Floats | None:
        return None if values is None else values[:n]

    return replace(
        paths,
        shape=paths.shape[:n],
        scale=paths.scale[:n],
        wear=some(paths.wear),
        wear_variance=some(paths.wear_variance),
        first_luck=some(paths.first_luck),
    )


def bundle_table(
    job: OpenJob,
    cost: Floats,
    openings: NDArray[np.intp],
    *,
    choices: Bools,
    best: int,
    probability: Floats,
) -> pl.DataFrame:
    """One row a bundle, the least expected cost first: see `while_open.WhileOpenAdvice`."""
    more = cost - cost[best]
    lower, upper = np.quantile(cost, [0.05, 0.95], axis=1)
    names = np.array(job.components)
    return pl.DataFrame(
        {
            "renew_now": [" + ".join(names[row]) or NOTHING_MORE for row in choices],
            "allowed": allowed(job, choices),
            "expected_cost_net": cost.mean(axis=1),
            "lower_cost_net": lower,
            "upper_cost_net": upper,
            "more_than_best_net": more.mean(axis=1),
            "standard_error_net": more.std(axis=1, ddof=1) / np.sqrt(cost.shape[1]),
            "further_opening_chance": (openings > 0).mean(axis=1),
            "probability_best": probability,
        }
    ).sort("expected_cost_net", maintain_order=True)
