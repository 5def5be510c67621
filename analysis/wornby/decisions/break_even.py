"""The age from which renewing a neighbour pays while the job is open."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import polars as pl

from wornby.decisions.later_policy import old_age
from wornby.decisions.open_job import Bools, Floats, OpenJob, living_on
from wornby.decisions.openings import LaterPolicy, horizon_costs
from wornby.decisions.paths import Paths

HALVINGS = 12

SCHEMA = {
    "component": pl.String,
    "age_now_years": pl.Float64,
    "break_even_age_years": pl.Float64,
    "reason": pl.String,
}
PAYS_ABOVE = "renewing it while open pays above this age"
PAYS_AT_ANY_AGE = "renewing it while open pays at any age"
DEGRADED_SAFETY = "a degraded safety part is renewed at any age"
DEGRADED_PAYS = "found degraded: renewing it while open pays whatever its age"
DEGRADED_LEAVE = "found degraded, and renewing it while open still costs more than it saves"
NEVER_PAYS = "renewing it while open costs more than it saves at any age up to {oldest:.0f} years"


def break_even_table(
    job: OpenJob, paths: Paths, policy: LaterPolicy, *, best: Bools
) -> pl.DataFrame:
    """Break-even age of each neighbour, the others as they are and treated as in the best bundle.

    Bisection on the paths of the advice, from new to the age that one part in a hundred
    reaches. The age is empty where renewing never pays in that range, for the reason given. A
    part found degraded lives on for its delay where that is known, so its age does not matter;
    of a part found sound, the age is that of one which nobody has looked at.
    """
    here, paths = living_on(job), replace(paths, first_luck=None)
    optional = [c for c, name in enumerate(job.components) if name != job.failed]
    if not optional:
        return pl.DataFrame(schema=SCHEMA)
    saving = _saving(here, paths, policy, best=best, optional=optional)
    oldest = np.array([max(old_age(here.neighbours[c].life), here.ages[c]) for c in optional])
    new_pays, old_pays = saving(np.zeros(len(optional))) > 0, saving(oldest) > 0
    low, high = np.zeros(len(optional)), oldest
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        pays = saving(middle) > 0
        low, high = np.where(pays, low, middle), np.where(pays, middle, high)

    rows = [
        (
            job.components[c],
            job.ages[c],
            *_answer(job, c, new_pays=new_pays[i], old_pays=old_pays[i], ages=(high[i], oldest[i])),
        )
        for i, c in enumerate(optional)
    ]
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


def _answer(
    job: OpenJob, c: int, *, new_pays: bool, old_pays: bool, ages: tuple[float, float]
) -> tuple[float | None, str]:
    if job.neighbours[c].costs.safety and job.components[c] in job.degraded:
        return 0.0, DEGRADED_SAFETY
    if job.components[c] in job.degraded and job.neighbours[c].delay_years is not None:
        return (0.0, DEGRADED_PAYS) if new_pays else (None, DEGRADED_LEAVE)
    if new_pays:
        return 0.0, PAYS_AT_ANY_AGE
    if not old_pays:
        return None, NEVER_PAYS.format(oldest=ages[1])
    return ages[0], PAYS_ABOVE


def _saving(
    job: OpenJob, paths: Paths, policy: LaterPolicy, *, best: Bools, optional: list[int]
) -> Callable[[Floats], Floats]:
    """What renewing each component saves, as a function of one age for each."""
    row = np.arange(len(optional))
    left, renewed = np.tile(best, (2, len(optional), 1))
    left[row, optional], renewed[row, optional] = False, True
    ages = np.tile(job.ages, (len(optional), 1))
    cost, _ = horizon_costs(job, paths, policy, bundles=renewed, ages=ages)
    cost_renewed = cost.mean(axis=1)

    def saving(age: Floats) -> Floats:
        at = ages.copy()
        at[row, optional] = age
        cost_left, _ = horizon_costs(job, paths, policy, bundles=left, ages=at)
        return np.asarray(cost_left.mean(axis=1) - cost_renewed)

    return saving
