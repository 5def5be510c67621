"""How long an open job takes to weigh, beside brute force and a plain simulation.

Run by `make bench`. Times are of the processor: a busy machine says nothing of the work.
"""

import heapq
import math
import random
from collections.abc import Callable
from dataclasses import replace
from time import process_time
from typing import TypeVar

import numpy as np
import pytest
from decisions.test_exact_programme import by_recursion, random_job, simulated, start

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs import AccessGroup, PartCosts
from wornby.decisions.exact_programme import extrapolated_programme, opening_programme
from wornby.decisions.later_policy import only_the_failed, past_a_threshold
from wornby.decisions.open_job import Neighbour, OpenJob, bundles
from wornby.decisions.openings import horizon_costs
from wornby.decisions.paths import sampled_paths
from wornby.decisions.while_open import renew_while_open

Told = TypeVar("Told")
MONTHS = 60


def timed(work: Callable[[], Told]) -> tuple[Told, float]:
    begun = process_time()
    told = work()
    return told, process_time() - begun


def drawn(shape: float, scale: float, *, n: int) -> WeibullDraws:
    rng = np.random.default_rng(7)
    return WeibullDraws(
        shape * np.exp(0.15 * rng.standard_normal(n)),
        scale * np.exp(0.08 * rng.standard_normal(n)),
        "years",
    )


def neighbours(k: int, *, n_draws: int) -> OpenJob:
    lives = [drawn(1.2 + 0.3 * c, 10.0 + c, n=n_draws) for c in range(k)]
    return OpenJob(
        group=AccessGroup("gearbox out", access_hours=6.0, follow_on_cost_net=40.0),
        neighbours=tuple(
            Neighbour(PartCosts(f"part {c}", 0.5, 60.0, 80.0, safety=False), 9.0, life, life)
            for c, life in enumerate(lives)
        ),
        failed="part 0",
        degraded=frozenset(),
        horizon_years=5.0,
        labour_price_per_hour=70.0,
    )


def test_four_components_by_the_month_over_sixty_months_take_under_ten_seconds() -> None:
    job = neighbours(4, n_draws=1)
    _, took = timed(lambda: opening_programme(job, steps=MONTHS, later="renew what is best"))
    print(f"exact programme, 4 components, {MONTHS} monthly steps: {took:.1f} s")
    assert took < 10


def test_the_programme_beside_brute_force_over_every_path() -> None:
    job, steps = random_job(3, k=2), 4
    choices = bundles(job)
    forced, slow = timed(
        lambda: [by_recursion(job, start(job, b), 0, steps) + b @ job.renewal_costs
                 for b in choices]
    )  # fmt: skip
    exact, quick = timed(
        lambda: [opening_programme(job, steps=steps, later="renew what is best") for _ in range(50)]
    )
    assert exact[0] == pytest.approx(forced, rel=1e-12)
    ratio = slow / (quick / 50)
    print(f"brute force over every path, 2 components, {steps} steps: {ratio:,.0f} times as long")
    assert ratio > 10


def test_the_bundles_of_four_under_two_hundred_draws_take_under_ten_seconds() -> None:
    job = neighbours(4, n_draws=200)

    def price_each() -> list[int]:
        best = []
        for draw in range(200):
            known = replace(job, neighbours=tuple(under(n, draw) for n in job.neighbours))
            best.append(int(costs(known, n_paths=500).argmin()))
        return best

    best, took = timed(price_each)
    advice, by_regression = timed(
        lambda: renew_while_open(job, n_paths=20_000, rng=np.random.default_rng(5))
    )
    names = np.array(job.components)
    told = [" + ".join(names[bundles(job)[b]]) or "nothing more" for b in best]
    share = told.count(advice.table["renew_now"][0]) / 200
    print(
        f"8 bundles under 200 draws one by one: {took:.1f} s, the best is best under {share:.0%}; "
        f"by regression over 20,000 paths: {by_regression:.1f} s, {advice.probability_best:.0%}"
    )
    assert took < 10
    assert by_regression < 10


def under(one: Neighbour, draw: int) -> Neighbour:
    life = WeibullDraws(one.life.shape[[draw]], one.life.scale[[draw]], "years")
    return replace(one, life=life, renewed_life=life)


def costs(job: OpenJob, *, n_paths: int) -> np.ndarray:
    choices = bundles(job)
    paths = sampled_paths(job, n_paths=n_paths, rng=np.random.default_rng(1))
    ages = np.tile(job.ages, (len(choices), 1))
    cost, _ = horizon_costs(job, paths, only_the_failed(job), bundles=choices, ages=ages)
    return np.asarray(cost.mean(axis=1))


def plain_simulation(job: OpenJob, bundle: np.ndarray, n_paths: int) -> float:
    """What a bundle costs, one path after the other, in plain Python."""
    rng, total = random.Random(1), 0.0
    shape = [float(n.life.shape[0]) for n in job.neighbours]
    scale = [float(n.life.scale[0]) for n in job.neighbours]
    for _ in range(n_paths):
        due = []
        for c, one in enumerate(job.neighbours):
            new = bundle[c] or one.component == job.failed
            age = 0.0 if new else one.age_years
            spent = (age / scale[c]) ** shape[c] + rng.expovariate(1.0)
            due.append((scale[c] * spent ** (1 / shape[c]) - age, c))
        heapq.heapify(due)
        while due[0][0] < job.horizon_years:
            at, c = heapq.heappop(due)
            total += float(job.failure_costs[c])
            life = scale[c] * rng.expovariate(1.0) ** (1 / shape[c])
            heapq.heappush(due, (at + life, c))
    return total / n_paths + float(bundle @ job.renewal_costs)


def test_the_simulation_beside_a_plain_one() -> None:
    job, n_plain, n_ours = neighbours(4, n_draws=1), 1000, 20_000
    choices = bundles(job)
    plain, slow = timed(lambda: [plain_simulation(job, b, n_plain) for b in choices])
    ours, quick = timed(lambda: costs(job, n_paths=n_ours))
    assert ours == pytest.approx(plain, rel=0.15)
    ratio = (slow / n_plain) / (quick / n_ours)
    print(f"plain Python simulation of 4 components: {ratio:.0f} times as long")
    assert ratio > 3


def test_twelve_neighbours_take_under_ten_seconds() -> None:
    job = neighbours(12, n_draws=500)
    advice, took = timed(
        lambda: renew_while_open(job, n_paths=10_000, rng=np.random.default_rng(5))
    )
    print(f"12 neighbours on 10,000 paths, {advice.table.height} bundles priced: {took:.1f} s")
    assert took < 10


@pytest.mark.parametrize("case", range(100))
def test_the_threshold_rule_costs_within_one_percent_of_the_optimum(case: int) -> None:
    """What the rule saves is simulated beside the rule whose cost is known, on the same paths."""
    k = 2 + case % 3
    job = random_job(1000 + case, k=k)
    steps = {2: 24, 3: 20, 4: 12}[k]
    optimum = extrapolated_programme(job, steps=steps, later="renew what is best")
    known = extrapolated_programme(job, steps=steps, later="renew only the failed part")
    saved = simulated(job, only_the_failed(job)) - simulated(job, past_a_threshold(job))
    cost = known - saved.mean(axis=1)
    best = int(optimum.argmin())
    noise = 3 * saved[best].std() / math.sqrt(saved.shape[1]) + 1e-3 * optimum[best]
    assert -noise < cost[best] - optimum[best] < 0.01 * optimum[best] + noise
