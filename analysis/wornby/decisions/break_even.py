"""The age from which renewing a neighbour pays while the job is open."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from wornby.decisions.later_policy import old_age
from wornby.decisions.open_job import Bools, Floats, OpenJob, living_on
from wornby.decisions.openings import LaterPolicy, horizon_costs
from wornby.decisions.paths import Paths
from wornby.decisions.shared_wear import SharedPlaces

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
    job: OpenJob,
    policy: LaterPolicy,
    *,
    best: Bools,
    paths_of: Callable[[OpenJob], Paths],
    shared: Sequence[SharedPlaces],
) -> pl.DataFrame:
    """Break-even age of each neighbour, the others as they are and treated as in the best bundle.

    Bisection on the paths of the advice, from new to the age that one part in a hundred
    reaches. The age is empty where renewing never pays in that range, for the reason given. A
    part found degraded lives on for its delay where that is known, so its age does not matter;
    of a part found sound, the age is that of one which nobody has looked at. Places that wear
    alike are of one age where they are now and nothing else is known of them, and each age says
    of the vehicle's wear what it would (`paths_of` has the paths of a job of any ages).
    """
    optional = [c for c, name in enumerate(job.components) if name != job.failed]
    if not optional:
        return pl.DataFrame(schema=SCHEMA)
    here = living_on(job)
    asked = _Asked(job, here, policy, best, paths_of, tuple(shared))
    saving = _saving(asked, optional)
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


@dataclass(frozen=True, eq=False, slots=True)
class _Asked:
    """The question of which ages are asked: the job, and the job as its parts live from here."""

    job: OpenJob
    here: OpenJob
    policy: LaterPolicy
    best: Bools
    paths_of: Callable[[OpenJob], Paths]
    shared: tuple[SharedPlaces, ...]

    def alike(self, c: int) -> list[int]:
        """The places that wear alike with this one, itself first: of its age, nothing found."""
        job, name = self.job, self.job.components[c]
        found = job.degraded | job.sound | ({job.failed} if job.failed is not None else set())
        for one in self.shared:
            if name in one.places:
                others = [
                    i
                    for i, other in enumerate(job.components)
                    if other in one.places and other not in {name, *found}
                ]
                return [c, *(i for i in others if job.ages[i] == job.ages[c])]
        return []


def _saving(asked: _Asked, optional: list[int]) -> Callable[[Floats], Floats]:
    """What renewing each component saves, as a function of one age for each."""
    lone = [i for i, c in enumerate(optional) if not asked.alike(c)]
    of_lone = _saving_each(asked, [optional[i] for i in lone])

    def saving(age: Floats) -> Floats:
        saved = np.empty(len(optional))
        if lone:
            saved[lone] = of_lone(age[lone])
        for i in set(range(len(optional))) - set(lone):
            saved[i] = _saving_alike(asked, optional[i], float(age[i]))
        return saved

    return saving


def _saving_each(asked: _Asked, components: list[int]) -> Callable[[Floats], Floats]:
    """Of components that live by themselves, on the same paths: a row for each."""
    paths = replace(asked.paths_of(asked.job), first_luck=None)
    row = np.arange(len(components))
    left, renewed = np.tile(asked.best, (2, len(components), 1))
    left[row, components], renewed[row, components] = False, True
    ages = np.tile(asked.here.ages, (len(components), 1))

    def mean_cost(bundles: Bools, at: Floats) -> Floats:
        cost, _ = horizon_costs(asked.here, paths, asked.policy, bundles=bundles, ages=at)
        return np.asarray(cost.mean(axis=1))

    cost_renewed = mean_cost(renewed, ages) if components else np.zeros(0)

    def saving(age: Floats) -> Floats:
        at = ages.copy()
        at[row, components] = age
        return mean_cost(left, at) - cost_renewed

    return saving


def _saving_alike(asked: _Asked, c: int, age: float) -> float:
    """Of a place that wears alike with others: its age tells of the vehicle's wear."""
    places = asked.alike(c)
    aged = tuple(
        replace(n, age_years=age) if i in places else n for i, n in enumerate(asked.job.neighbours)
    )
    job = replace(asked.job, neighbours=aged)
    paths, here = replace(asked.paths_of(job), first_luck=None), living_on(job)
    choices = np.tile(asked.best, (2, 1))
    choices[:, c] = False, True
    ages = np.tile(here.ages, (2, 1))
    cost, _ = horizon_costs(here, paths, asked.policy, bundles=choices, ages=ages)
    left, renewed = cost.mean(axis=1)
    return float(left - renewed)
