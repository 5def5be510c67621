"""How long a whole menu of fixed prices takes; run by `make bench`."""

import random
from dataclasses import replace
from pathlib import Path
from time import process_time

import pytest

from wornby.decisions.costs_of_jobs import JobCosts, PlannedJob
from wornby.records.catalogue import CandidateJob
from wornby.reports.price_answers import price_answer
from wornby.reports.priced_jobs import N_PRICE_DRAWS, done_by_the_workshop, priced
from wornby.reports.workshop import Workshop, open_workshop

DEMO = Path(__file__).parents[2] / "data_demo"
N_JOBS = 30
SCALED = 10
"""The plain simulation is timed on a tenth of the draws."""


def with_thirty_jobs() -> Workshop:
    """The demo with a job for each component in three grades, thirty of them."""
    workshop = open_workshop(DEMO, confidence=0.90, seed=1)
    jobs = tuple(
        CandidateJob(f"{name}, {grade}", (name,), grade, 12, 600.0)
        for grade in ("genuine", "original-equipment", "aftermarket")
        for name in workshop.catalogue.components
    )[:N_JOBS]
    catalogue = replace(workshop.catalogue, fixed_price_jobs=jobs)
    return replace(workshop, records=replace(workshop.records, catalogue=catalogue))


Sizes = tuple[list[float], list[float]]


def one_cost(
    planned: PlannedJob, costs: JobCosts, at: int, *, sizes: list[Sizes], rng: random.Random
) -> float:
    """One job under one possible truth, written as one would by hand."""
    known, (others, found, comebacks) = costs.unknowns, sizes
    fixed = planned.parts_cost_net + planned.follow_on_cost_net

    def work() -> float:
        hours = rng.lognormvariate(float(known.log_mean[at]), float(known.log_spread[at]))
        return min(hours, planned.most_hours) * planned.labour_cost_per_hour + fixed

    def size(seen: Sizes, unseen: float) -> float:
        return rng.choices(*seen)[0] if seen[0] else unseen

    total = work() + size(others, planned.other_cost_net)
    if rng.random() < known.found_chance[at]:
        total += size(found, planned.found_size_net)
    if rng.random() < known.comeback_chance[at]:
        total += size(comebacks, work())
    while rng.random() < planned.cancelled_share:
        total += planned.cancellation_cost_net
    return total


def simulated_by_hand(planned: PlannedJob, costs: JobCosts) -> tuple[float, float]:
    """Mean cost of a job, and processor seconds for all draws of jobs and years."""
    known = costs.unknowns
    seen = (known.other_sizes, known.found_sizes, known.comeback_sizes)
    sizes = [(of.tolist(), weights.tolist()) for of, weights in seen]
    rng, start, drawn = random.Random(4), process_time(), []
    for at in range(N_PRICE_DRAWS // SCALED):
        cost, *_ = (
            one_cost(planned, costs, at, sizes=sizes, rng=rng)
            for _ in range(1 + int(costs.year_jobs[at]))
        )
        drawn.append(cost)
    return sum(drawn) / len(drawn), SCALED * (process_time() - start)


def test_a_menu_of_thirty_jobs_takes_less_than_five_seconds() -> None:
    """Bar: 5 s of processor time, past jobs looked up and all; and the plain way beside it."""
    workshop = with_thirty_jobs()
    start = process_time()
    menu = price_answer(workshop)
    took = process_time() - start
    done = done_by_the_workshop(workshop)
    by_hand = 0.0
    for job in workshop.catalogue.fixed_price_jobs:
        if menu.frame.filter(job=job.name)["verdict"].item() == "not known":
            continue
        advice = priced(workshop, job, done).advice
        mean, seconds = simulated_by_hand(advice.planned, advice.costs)
        by_hand += seconds
        scatter = float(advice.costs.job.std()) / (N_PRICE_DRAWS / SCALED) ** 0.5
        assert mean == pytest.approx(float(advice.costs.job.mean()), abs=5 * scatter), job.name
    print(f"{N_JOBS} jobs: {took:.2f} s, plain simulation {by_hand:.0f} s, x {by_hand / took:.0f}")
    assert menu.frame.height == N_JOBS
    assert took < 5.0
    assert by_hand / took > 3
