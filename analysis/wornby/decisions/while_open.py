"""Which neighbours to renew while a job has them within reach."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.decisions.break_even import break_even_table
from wornby.decisions.later_policy import only_the_failed, past_a_threshold
from wornby.decisions.open_job import Bools, Floats, OpenJob, allowed, bundles
from wornby.decisions.openings import LaterPolicy, horizon_costs
from wornby.decisions.paths import Paths, sampled_paths, sharing_wear

NOTHING_MORE = "nothing more"
DEGRADED_AS_SOUND = (
    "{names}: found degraded but priced as a sound part of its age, so renewing it is worth more "
    "than shown"
)
INDEPENDENT = "the parts of a vehicle are taken to live independently"
WEAR_SHARED = "the parts of a vehicle wear alike: its wear varies with variance {variance:.3g}"
SAFETY_FIRST = "{names}: degraded and a safety part, so renewed whatever it costs"


@dataclass(frozen=True, eq=False, slots=True)
class WhileOpenAdvice:
    """Renew `best` while the group is open; every other bundle is priced beside it.

    Money is net, from the open job to the horizon, without the opening and the failed part's
    renewal, which are paid anyway. `table` has one row a bundle, the least cost first:
    renew_now, allowed (leaves no degraded safety part), expected_cost_net, lower_cost_net and
    upper_cost_net (90 % of owners fall between), more_than_best_net and its Monte-Carlo
    standard_error_net, further_opening_chance, probability_best. `break_even_ages` has component,
    age_now_years, break_even_age_years (empty: never, for the reason beside it) and reason.
    `policies` has what the best bundle costs under each rule for later openings, of which
    `later_policy` is the cheaper and the one used; `wear` says what is assumed of the parts of
    one vehicle.
    """

    job: OpenJob
    best: tuple[str, ...]
    expected_cost_net: float
    leave_all_cost_net: float
    renew_all_cost_net: float
    probability_best: float
    later_policy: str
    wear: str
    table: pl.DataFrame
    break_even_ages: pl.DataFrame
    policies: pl.DataFrame
    n_paths: int
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False, slots=True)
class _Priced:
    """Every bundle on every path, under one rule for later openings."""

    policy: LaterPolicy
    cost: Floats
    openings: NDArray[np.intp]

    def best(self, choices: Bools) -> int:
        return int(np.argmin(np.where(choices, self.cost.mean(axis=1), np.inf)))


def renew_while_open(job: OpenJob, *, n_paths: int, rng: np.random.Generator) -> WhileOpenAdvice:
    """The bundle of renewals with the least expected cost to the owner's horizon.

    Every bundle is simulated on the same paths, each with a curve drawn for every part, so
    the cost includes what the data leave open. A degraded safety part is renewed whatever it
    costs.

    >>> from wornby.curves.uncertainty import WeibullDraws
    >>> from wornby.decisions.costs import AccessGroup, PartCosts
    >>> from wornby.decisions.open_job import Neighbour
    >>> worn = WeibullDraws(np.array([3.0]), np.array([12.0]), "years")
    >>> slave, seal = (
    ...     PartCosts(name, own_hours, price, failure_consequence_net=80.0, safety=False)
    ...     for name, own_hours, price in [("slave cylinder", 1.0, 90.0), ("rear seal", 0.5, 30.0)]
    ... )
    >>> job = OpenJob(
    ...     group=AccessGroup("gearbox out", access_hours=6.0, follow_on_cost_net=40.0),
    ...     neighbours=(Neighbour(slave, 9.0, worn, worn), Neighbour(seal, 11.0, worn, worn)),
    ...     failed="slave cylinder",
    ...     degraded=frozenset(),
    ...     horizon_years=4.0,
    ...     labour_price_per_hour=70.0,
    ... )
    >>> advice = renew_while_open(job, n_paths=2000, rng=np.random.default_rng(1))
    >>> advice.best, round(advice.leave_all_cost_net - advice.expected_cost_net, -2)
    (('rear seal',), 300.0)
    """
    paths = sampled_paths(job, n_paths=n_paths, rng=rng)
    return _advice_on(job, paths, wear=INDEPENDENT)


def renew_while_open_sharing_wear(
    job: OpenJob, *, wear_variance: float, n_paths: int, rng: np.random.Generator
) -> WhileOpenAdvice:
    """The same choice where the parts of one vehicle wear alike.

    A part that failed young then makes its neighbours suspect, and parts that have lasted
    speak for the others. `paths.sharing_wear` has the model. Break-even ages keep what this
    vehicle has shown of its wear.
    """
    paths = sampled_paths(job, n_paths=n_paths, rng=rng)
    paths = sharing_wear(paths, job, wear_variance=wear_variance, rng=rng)
    return _advice_on(job, paths, wear=WEAR_SHARED.format(variance=wear_variance))


def _advice_on(job: OpenJob, paths: Paths, *, wear: str) -> WhileOpenAdvice:
    if paths.n < 100:
        raise ValueError(f"{job.group.name}: {paths.n} paths, wanted 100 or more")
    choices = bundles(job)
    ages = np.tile(job.ages, (len(choices), 1))
    priced = [
        _Priced(policy, *horizon_costs(job, paths, policy, bundles=choices, ages=ages))
        for policy in (only_the_failed(job), past_a_threshold(job))
    ]
    may = allowed(job, choices)
    least = [float(p.cost[p.best(may)].mean()) for p in priced]
    used = priced[int(np.argmin(least))]
    return _advice(
        job,
        paths,
        used,
        choices=choices,
        wear=wear,
        policies=pl.DataFrame(
            {"later_policy": [p.policy.name for p in priced], "best_expected_cost_net": least}
        ),
    )


def _advice(
    job: OpenJob,
    paths: Paths,
    priced: _Priced,
    *,
    choices: Bools,
    wear: str,
    policies: pl.DataFrame,
) -> WhileOpenAdvice:
    may = allowed(job, choices)
    best = priced.best(may)
    probability = _probability_best(job, paths, priced.cost, best=best, may=may)
    expected = priced.cost.mean(axis=1)
    return WhileOpenAdvice(
        job=job,
        best=_names(job, choices[best]),
        expected_cost_net=float(expected[best]),
        leave_all_cost_net=float(expected[0]),
        renew_all_cost_net=float(expected[-1]),
        probability_best=float(probability[best]),
        later_policy=priced.policy.name,
        wear=wear,
        table=_table(job, priced, choices=choices, best=best, probability=probability),
        break_even_ages=break_even_table(job, paths, priced.policy, best=choices[best]),
        policies=policies,
        n_paths=paths.n,
        notes=_notes(job),
    )


def _table(
    job: OpenJob, priced: _Priced, *, choices: Bools, best: int, probability: Floats
) -> pl.DataFrame:
    cost = priced.cost
    more = cost - cost[best]
    lower, upper = np.quantile(cost, [0.05, 0.95], axis=1)
    return pl.DataFrame(
        {
            "renew_now": [" + ".join(_names(job, row)) or NOTHING_MORE for row in choices],
            "allowed": allowed(job, choices),
            "expected_cost_net": cost.mean(axis=1),
            "lower_cost_net": lower,
            "upper_cost_net": upper,
            "more_than_best_net": more.mean(axis=1),
            "standard_error_net": more.std(axis=1, ddof=1) / np.sqrt(cost.shape[1]),
            "further_opening_chance": (priced.openings > 0).mean(axis=1),
            "probability_best": probability,
        }
    ).sort("expected_cost_net", maintain_order=True)


def _names(job: OpenJob, bundle: Bools) -> tuple[str, ...]:
    return tuple(name for name, renew in zip(job.components, bundle, strict=True) if renew)


def _probability_best(job: OpenJob, paths: Paths, cost: Floats, *, best: int, may: Bools) -> Floats:
    """Share of the draws under which each bundle is the cheapest of those allowed.

    A bundle's price under one draw is the regression, over the paths, of its cost beyond the best
    bundle's on what the draw says of each part (Strong, Oakley & Brennan 2014): here its chance
    of failing within the horizon. A price from one path alone would be mostly luck.
    """
    age = np.where(np.array(job.components) == job.failed, 0.0, job.ages)
    start = np.stack([age, np.zeros_like(age)], axis=1)
    before = (start / paths.scale) ** paths.shape
    after = ((start + job.horizon_years) / paths.scale) ** paths.shape
    chance = -np.expm1(before - after).reshape(paths.n, -1)
    seen = np.column_stack([np.ones(paths.n), chance, chance**2])
    fitted = seen @ np.linalg.lstsq(seen, (cost - cost[best]).T)[0]
    cheapest = np.argmin(np.where(may, fitted, np.inf), axis=1)
    return np.asarray(np.bincount(cheapest, minlength=len(may)) / paths.n)


def _notes(job: OpenJob) -> tuple[str, ...]:
    safety = [n.component for n in job.neighbours if n.costs.safety]
    must = sorted(job.degraded & set(safety) - {job.failed})
    other = sorted(job.degraded - set(safety) - {job.failed})
    notes = []
    if must:
        notes.append(SAFETY_FIRST.format(names=", ".join(must)))
    if other:
        notes.append(DEGRADED_AS_SOUND.format(names=", ".join(other)))
    return tuple(notes)
