"""The programme against enumeration by hand, and the simulation against the programme."""

import math
from collections.abc import Iterator
from itertools import product

import numpy as np
import pytest

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs import AccessGroup, PartCosts
from wornby.decisions.exact_programme import (
    Later,
    extrapolated_programme,
    opening_programme,
)
from wornby.decisions.later_policy import only_the_failed, past_a_threshold
from wornby.decisions.open_job import Floats, Neighbour, OpenJob, bundles
from wornby.decisions.openings import LaterPolicy, horizon_costs
from wornby.decisions.paths import sampled_paths
from wornby.errors import EstimateError

BEST: Later = "renew what is best"
ONLY: Later = "renew only the failed part"


def random_job(seed: int, *, k: int) -> OpenJob:
    rng = np.random.default_rng(seed)

    def neighbour(name: str) -> Neighbour:
        costs = PartCosts(
            name,
            own_hours=float(rng.uniform(0.3, 2)),
            part_price_net=float(rng.uniform(20, 200)),
            failure_consequence_net=float(rng.uniform(0, 300)),
            safety=False,
        )
        old, new = (
            WeibullDraws(rng.uniform(1, 5, size=1), rng.uniform(3, 14, size=1), "years")
            for _ in range(2)
        )
        return Neighbour(costs, float(rng.uniform(0, 12)), old, new)

    return OpenJob(
        group=AccessGroup("gearbox out", float(rng.uniform(1, 10)), follow_on_cost_net=40.0),
        neighbours=tuple(neighbour(f"part {i}") for i in range(k)),
        failed="part 0",
        degraded=frozenset(),
        horizon_years=float(rng.uniform(2, 10)),
        labour_price_per_hour=70.0,
    )


# A part by hand: (renewed, step it was renewed in or None for the job now). Its law is known from
# the docstring of the programme: renewed halfway through its step, except now.
State = tuple[tuple[str, int], ...]


def chance_of_failing(
    job: OpenJob, c: int, part: tuple[str, int], step: int, width: float
) -> float:
    one = job.neighbours[c]
    law = one.life if part[0] == "in place" else one.renewed_life
    since = {"in place": -one.age_years, "now": 0.0, "later": (part[1] + 0.5) * width}[part[0]]
    start, end = step * width - since, (step + 1) * width - since
    if part[0] == "later" and part[1] == step - 1:
        start = 0.0
    shape, scale = float(law.shape[0]), float(law.scale[0])
    return 1 - math.exp((start / scale) ** shape - (end / scale) ** shape)


def outcomes(
    job: OpenJob, state: State, step: int, width: float
) -> Iterator[tuple[tuple[bool, ...], float]]:
    """Every combination of failures in one step with its chance."""
    chances = [chance_of_failing(job, c, part, step, width) for c, part in enumerate(state)]
    for failed in product((False, True), repeat=len(state)):
        yield failed, math.prod(p if f else 1 - p for f, p in zip(failed, chances, strict=True))


def renewals(failed: tuple[bool, ...]) -> list[tuple[bool, ...]]:
    """Every choice at an opening: the failed parts and any of the others."""
    return [r for r in product((False, True), repeat=len(failed)) if all(np.array(r)[list(failed)])]


def after(state: State, renewed: tuple[bool, ...], step: int) -> State:
    return tuple(("later", step) if r else part for r, part in zip(renewed, state, strict=True))


def bill(job: OpenJob, failed: tuple[bool, ...], renewed: tuple[bool, ...]) -> float:
    extra = np.array(renewed) & ~np.array(failed)
    return float(np.array(failed) @ job.failure_costs + extra @ job.renewal_costs)


def by_recursion(job: OpenJob, state: State, step: int, steps: int) -> float:
    """Least expected cost by following every path."""
    if step == steps:
        return 0.0
    cost = 0.0
    for failed, chance in outcomes(job, state, step, job.horizon_years / steps):
        choices = renewals(failed) if any(failed) else [failed]
        cost += chance * min(
            bill(job, failed, r) + by_recursion(job, after(state, r, step), step + 1, steps)
            for r in choices
        )
    return cost


def start(job: OpenJob, bundle: np.ndarray) -> State:
    new = bundle | (np.array(job.components) == job.failed)
    return tuple(("now", 0) if n else ("in place", 0) for n in new)


@pytest.mark.parametrize("seed", range(6))
def test_the_programme_is_the_least_cost_over_every_path(seed: int) -> None:
    job = random_job(seed, k=2)
    by_hand = [
        by_recursion(job, start(job, bundle), 0, 4) + bundle @ job.renewal_costs
        for bundle in bundles(job)
    ]
    assert opening_programme(job, steps=4, later=BEST) == pytest.approx(by_hand, rel=1e-12)


def test_the_programme_is_the_best_of_all_policies() -> None:
    job, steps = random_job(31, k=2), 2
    state = start(job, bundles(job)[0])
    width = job.horizon_years / steps
    first = [failed for failed, _ in outcomes(job, state, 0, width) if any(failed)]
    reached = {after(state, r, 0) for failed in first for r in renewals(failed)} | {state}
    points = [(0, state, failed) for failed in first]
    points += [(1, later, failed) for later in sorted(reached) for failed in first]
    costs = [
        cost_of(job, dict(zip(points, policy, strict=True)), state, steps)
        for policy in product(*(renewals(failed) for _, _, failed in points))
    ]
    assert len(costs) > 100
    least = float(opening_programme(job, steps=steps, later=BEST)[0])
    assert min(costs) == pytest.approx(least, rel=1e-12)


def cost_of(
    job: OpenJob,
    policy: dict[tuple[int, State, tuple[bool, ...]], tuple[bool, ...]],
    state: State,
    steps: int,
    step: int = 0,
) -> float:
    if step == steps:
        return 0.0
    cost = 0.0
    for failed, chance in outcomes(job, state, step, job.horizon_years / steps):
        renewed = policy[step, state, failed] if any(failed) else failed
        later = cost_of(job, policy, after(state, renewed, step), steps, step + 1)
        cost += chance * (bill(job, failed, renewed) + later)
    return cost


def simulated(job: OpenJob, policy: LaterPolicy, *, n_paths: int = 4000) -> Floats:
    choices = bundles(job)
    cost, _ = horizon_costs(
        job,
        sampled_paths(job, n_paths=n_paths, rng=np.random.default_rng(17)),
        policy,
        bundles=choices,
        ages=np.tile(job.ages, (len(choices), 1)),
    )
    return cost


@pytest.mark.parametrize("seed", range(30))
def test_the_simulation_agrees_with_the_programme(seed: int) -> None:
    job = random_job(seed, k=2 + seed % 2)
    exact = extrapolated_programme(job, steps=16, later=ONLY)
    cost = simulated(job, only_the_failed(job))
    best = int(exact.argmin())
    error = cost[best].std() / math.sqrt(cost.shape[1])
    assert abs(cost[best].mean() - exact[best]) < 3 * error


@pytest.mark.parametrize("seed", range(30))
def test_the_threshold_rule_costs_within_one_percent_of_the_optimum(seed: int) -> None:
    """What the rule saves is simulated beside the rule whose cost is known, on the same paths."""
    job = random_job(seed, k=2 + seed % 2)
    optimum = extrapolated_programme(job, steps=24, later=BEST)
    known = extrapolated_programme(job, steps=24, later=ONLY)
    saved = simulated(job, only_the_failed(job)) - simulated(job, past_a_threshold(job))
    cost = known - saved.mean(axis=1)
    best = int(optimum.argmin())
    noise = 3 * saved[best].std() / math.sqrt(saved.shape[1]) + 1e-3 * optimum[best]
    assert -noise < cost[best] - optimum[best] < 0.01 * optimum[best] + noise


def test_no_rule_for_later_openings_costs_less_than_the_best() -> None:
    for seed in range(10):
        job = random_job(seed, k=2)
        best = opening_programme(job, steps=12, later=BEST)
        assert (best <= opening_programme(job, steps=12, later=ONLY) + 1e-9).all()


def test_halving_the_steps_halves_the_error() -> None:
    job = random_job(4, k=2)
    exact = extrapolated_programme(job, steps=192, later=BEST)[0]
    errors = [opening_programme(job, steps=n, later=BEST)[0] - exact for n in (24, 48, 96)]
    assert errors[0] / errors[1] == pytest.approx(2, abs=0.5)
    assert errors[1] / errors[2] == pytest.approx(2, abs=0.5)


def test_what_the_programme_cannot_do_is_said() -> None:
    job = random_job(0, k=2)
    with pytest.raises(ValueError, match="0 steps, wanted 1 or more"):
        opening_programme(job, steps=0, later=BEST)
    with pytest.raises(ValueError, match="5 components, wanted at most 4"):
        opening_programme(random_job(0, k=5), steps=3, later=BEST)
    doubtful = WeibullDraws(np.ones(2), np.ones(2), "years")
    one = Neighbour(job.neighbours[0].costs, 1.0, doubtful, doubtful)
    unsure = OpenJob(job.group, (one,), None, frozenset(), 3.0, 70.0)
    with pytest.raises(EstimateError, match="part 0: 2 draws of its curve, wanted one"):
        opening_programme(unsure, steps=3, later=BEST)
