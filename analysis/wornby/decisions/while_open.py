"""Which neighbours to renew while a job has them within reach."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.decisions.break_even import break_even_table
from wornby.decisions.bundle_search import bundle_table, choices_of
from wornby.decisions.later_policy import only_the_failed, past_a_threshold
from wornby.decisions.open_job import Bools, Floats, OpenJob, allowed, living_on
from wornby.decisions.openings import LaterPolicy, horizon_costs
from wornby.decisions.paths import Paths, as_found, sampled_paths, sharing_wear
from wornby.decisions.shared_wear import SharedPlaces

DEGRADED_AS_SOUND = (
    "{names}: found degraded, but how long such a part lasts is not known, so it is priced as a "
    "running part of its age and renewing it is worth more than shown"
)
LIVES_FROM_HERE = (
    "{names}: found degraded, so it lives on from here for as long as a defect shows before the "
    "part fails, whatever its age"
)
SOUND_FROM_HERE = (
    "{names}: found sound, so a defect that the look would have seen is ruled out; break-even ages "
    "are those of parts that nobody has looked at"
)
SOUND_SAYS_LITTLE = (
    "{names}: found sound, which changes nothing here: how long a defect shows is not known, or no "
    "look sees it"
)
INDEPENDENT = "the parts of a vehicle are taken to live independently"
SAFETY_FIRST = "{names}: degraded and a safety part, so renewed whatever it costs"
BEST_NOW, LEAVE_ALL, RENEW_ALL = "the best bundle", "leave all now", "renew all now"
ONLY_THE_FAILED_EVER = "only what fails, now and later"
FEWEST_PATHS = 100
TAIL = 0.05


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
    `later_policy` is the cheaper and the one used. `against` sets the best bundle beside the
    plain rules: rule, allowed, expected_cost_net, lower_cost_net, upper_cost_net, saved_net (what
    the best saves against it, on the same futures), saved_lower_net, saved_upper_net and
    cheaper_chance (that the best turns out no dearer). `wear` says what is assumed of the parts
    of one vehicle.
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
    against: pl.DataFrame
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


def renew_while_open(
    job: OpenJob,
    *,
    n_paths: int,
    rng: np.random.Generator,
    shared: Sequence[SharedPlaces] = (),
) -> WhileOpenAdvice:
    """The bundle of renewals with the least expected cost to the owner's horizon.

    Every bundle is simulated on the same paths, each with a curve drawn for every part, so
    the cost includes what the data leave open. A degraded safety part is renewed whatever it
    costs. Places that wear alike (`shared`) tell of one another: one that failed or degraded young
    makes the others suspect, and those that have lasted speak for them. With more than six
    components the bundles are searched, not all priced.

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
    if n_paths < FEWEST_PATHS:
        raise ValueError(f"{job.group.name}: {n_paths} paths, wanted {FEWEST_PATHS} or more")
    drawn, seed = sampled_paths(job, n_paths=n_paths, rng=rng), int(rng.integers(2**62))

    def paths_of(asked: OpenJob) -> Paths:
        told = np.random.default_rng(seed)
        alike = sharing_wear(drawn, asked, shared, told) if shared else drawn
        return as_found(alike, asked, told)

    paths, here = paths_of(job), living_on(job)
    rules = (only_the_failed(here), past_a_threshold(here))
    choices = choices_of(here, paths, rules)
    ages = np.tile(here.ages, (len(choices), 1))
    priced = [
        _Priced(rule, *horizon_costs(here, paths, rule, bundles=choices, ages=ages))
        for rule in rules
    ]
    wear = "; ".join(one.told for one in shared if one.told) or INDEPENDENT
    may = allowed(job, choices)
    used = min(priced, key=lambda p: float(p.cost[p.best(may)].mean()))
    ages_told = break_even_table(
        job, used.policy, best=choices[used.best(may)], paths_of=paths_of, shared=shared
    )
    return _advice(job, here, paths, priced, choices=choices, wear=wear, break_even_ages=ages_told)


def _advice(
    job: OpenJob,
    here: OpenJob,
    paths: Paths,
    priced: list[_Priced],
    *,
    choices: Bools,
    wear: str,
    break_even_ages: pl.DataFrame,
) -> WhileOpenAdvice:
    may = allowed(job, choices)
    least = [float(p.cost[p.best(may)].mean()) for p in priced]
    used = priced[int(np.argmin(least))]
    best = used.best(may)
    probability = _probability_best(here, paths, used.cost, best=best, may=may)
    expected = used.cost.mean(axis=1)
    table = bundle_table(
        job, used.cost, used.openings, choices=choices, best=best, probability=probability
    )
    return WhileOpenAdvice(
        job=job,
        best=_names(job, choices[best]),
        expected_cost_net=float(expected[best]),
        leave_all_cost_net=float(expected[0]),
        renew_all_cost_net=float(expected[-1]),
        probability_best=float(probability[best]),
        later_policy=used.policy.name,
        wear=wear,
        table=table,
        break_even_ages=break_even_ages,
        policies=pl.DataFrame(
            {"later_policy": [p.policy.name for p in priced], "best_expected_cost_net": least}
        ),
        against=_against(used, priced[0], best=best, may=may),
        n_paths=paths.n,
        notes=_notes(job),
    )


def _against(used: _Priced, failed_only: _Priced, *, best: int, may: Bools) -> pl.DataFrame:
    """The best bundle beside the plain rules, on the same futures."""
    rules = {
        BEST_NOW: (used.cost[best], True),
        LEAVE_ALL: (used.cost[0], bool(may[0])),
        RENEW_ALL: (used.cost[-1], bool(may[-1])),
        ONLY_THE_FAILED_EVER: (failed_only.cost[0], bool(may[0])),
    }
    rows = []
    for rule, (cost, is_allowed) in rules.items():
        saved = cost - used.cost[best]
        rows.append(
            {
                "rule": rule,
                "allowed": is_allowed,
                "expected_cost_net": float(cost.mean()),
                "lower_cost_net": float(np.quantile(cost, TAIL)),
                "upper_cost_net": float(np.quantile(cost, 1 - TAIL)),
                "saved_net": float(saved.mean()),
                "saved_lower_net": float(np.quantile(saved, TAIL)),
                "saved_upper_net": float(np.quantile(saved, 1 - TAIL)),
                "cheaper_chance": float((saved >= 0).mean()),
            }
        )
    return pl.DataFrame(rows)


def _names(job: OpenJob, bundle: Bools) -> tuple[str, ...]:
    return tuple(name for name, renew in zip(job.components, bundle, strict=True) if renew)


def _probability_best(job: OpenJob, paths: Paths, cost: Floats, *, best: int, may: Bools) -> Floats:
    """Share of the draws under which each bundle is the cheapest of those allowed.

    A bundle's price under one draw is the regression, over the paths, of its cost beyond the best
    bundle's on what the draw says of each part (Strong, Oakley & Brennan 2014): here its chance
    of failing within the horizon, and Kendall's tau of places that wear alike. A price from one
    path alone would be mostly luck.
    """
    age = np.where(np.array(job.components) == job.failed, 0.0, job.ages)
    start = np.stack([age, np.zeros_like(age)], axis=1)
    before = (start / paths.scale) ** paths.shape
    after = ((start + job.horizon_years) / paths.scale) ** paths.shape
    chance = -np.expm1(before - after).reshape(paths.n, -1)
    seen = np.column_stack([np.ones(paths.n), chance, chance**2])
    if paths.wear_variance is not None:
        alike = paths.wear_variance[:, :, 1]
        seen = np.column_stack([seen, alike / (alike + 2)])
    fitted = seen @ np.linalg.lstsq(seen, (cost - cost[best]).T)[0]
    cheapest = np.argmin(np.where(may, fitted, np.inf), axis=1)
    return np.asarray(np.bincount(cheapest, minlength=len(may)) / paths.n)


def _notes(job: OpenJob) -> tuple[str, ...]:
    """What was found at the open job, and what it changes."""
    safety = {n.component for n in job.neighbours if n.costs.safety}
    known = {n.component for n in job.neighbours if n.delay_years is not None}
    seen = {n.component for n in job.neighbours if n.detection > 0} & known
    degraded, sound = job.degraded - {job.failed}, job.sound
    told = {
        SAFETY_FIRST: degraded & safety,
        LIVES_FROM_HERE: degraded & known,
        DEGRADED_AS_SOUND: degraded - known - safety,
        SOUND_FROM_HERE: sound & seen,
        SOUND_SAYS_LITTLE: sound - seen,
    }
    return tuple(
        text.format(names=", ".join(sorted(str(n) for n in names)))
        for text, names in told.items()
        if names
    )
