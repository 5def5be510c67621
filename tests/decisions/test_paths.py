"""Shared wear against the closed forms of gamma frailty."""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs import AccessGroup, PartCosts
from wornby.decisions.later_policy import only_the_failed
from wornby.decisions.open_job import Neighbour, OpenJob
from wornby.decisions.openings import horizon_costs
from wornby.decisions.paths import Paths, sampled_paths, sharing_wear
from wornby.decisions.shared_wear import SharedPlaces
from wornby.decisions.while_open import INDEPENDENT, renew_while_open

SHAPE, SCALE, VARIANCE = 3.0, 14.0, 1.5
ALIKE = SharedPlaces(("left pipe", "right pipe"), np.array([VARIANCE]), "the pipes wear alike")
LIFE = WeibullDraws(np.array([SHAPE]), np.array([SCALE]), "years")


def pipe(name: str, age: float) -> Neighbour:
    costs = PartCosts(
        name,
        own_hours=2.0,
        part_price_net=120.0,
        failure_consequence_net=50.0,
        safety=False,
    )
    return Neighbour(costs, age, LIFE, LIFE)


def pipes(age: float, *, failed: str | None = "left pipe") -> OpenJob:
    return OpenJob(
        group=AccessGroup("front subframe down", access_hours=4.0, follow_on_cost_net=70.0),
        neighbours=(pipe("left pipe", age), pipe("right pipe", age)),
        failed=failed,
        degraded=frozenset(),
        horizon_years=3.0,
        labour_price_per_hour=70.0,
    )


def paths_of(job: OpenJob, *, n: int = 40_000) -> Paths:
    rng = np.random.default_rng(21)
    paths = sampled_paths(job, n_paths=n, rng=rng)
    return sharing_wear(paths, job, [ALIKE], rng)


def first_failures(job: OpenJob) -> NDArray[np.intp]:
    _, openings = horizon_costs(
        job,
        paths_of(job),
        only_the_failed(job),
        bundles=np.zeros((1, len(job.components)), dtype=np.bool_),
        ages=job.ages[None, :],
    )
    return np.asarray(openings[0])


def at_unit_wear(age: float) -> float:
    return math.expm1(VARIANCE * (age / SCALE) ** SHAPE) / VARIANCE


def test_over_all_vehicles_a_new_part_keeps_its_own_curve() -> None:
    job = replace(pipes(0.0, failed=None), horizon_years=12.0)
    alone = replace(job, neighbours=job.neighbours[:1])
    failed = (first_failures(alone) > 0).mean()
    assert failed == pytest.approx(-math.expm1(-((12 / SCALE) ** SHAPE)), abs=0.01)


def test_a_failed_twin_raises_the_chance_as_the_closed_form_says() -> None:
    # Clayton (1978): given a failure of one at a, the other lasts from a to b with the chance
    # ((1 + v (h(a) + h(a))) / (1 + v (h(a) + h(b))))^(1/v + 1), h the hazard at unit wear
    job = pipes(6.0)
    right = replace(job, neighbours=job.neighbours[::-1], failed="left pipe")
    paths = paths_of(right)
    part = (np.arange(paths.n), np.zeros(paths.n, dtype=np.intp), np.zeros(paths.n, dtype=np.intp))
    spent = [paths.hazard(np.full(paths.n, age), part) for age in (6.0, 9.0)]
    lasts = np.exp(spent[0] - spent[1]).mean()
    a, b = at_unit_wear(6.0), at_unit_wear(9.0)
    exact = ((1 + VARIANCE * 2 * a) / (1 + VARIANCE * (a + b))) ** (1 / VARIANCE + 1)
    independent = math.exp((6 / SCALE) ** SHAPE - (9 / SCALE) ** SHAPE)
    assert lasts == pytest.approx(exact, abs=0.003)
    assert 1 - lasts > 1.5 * (1 - independent)


def test_age_and_hazard_are_inverse() -> None:
    paths = paths_of(pipes(6.0), n=100)
    part = (np.arange(100), np.zeros(100, dtype=np.intp), np.ones(100, dtype=np.intp))
    ages = np.linspace(0.1, 30, 100)
    assert paths.age_at(paths.hazard(ages, part), part) == pytest.approx(ages)


def test_two_pipes_of_one_design_are_renewed_together_where_wear_is_shared() -> None:
    # common practice, no source: two pipes of one design on one car are usually in the same
    # state, so the second is renewed with the first
    job = pipes(9.0)
    apart = renew_while_open(job, n_paths=8000, rng=np.random.default_rng(2))
    alike = renew_while_open(job, n_paths=8000, rng=np.random.default_rng(2), shared=[ALIKE])
    assert (apart.best, apart.wear) == ((), INDEPENDENT)
    assert alike.best == ("right pipe",)
    assert alike.wear == "the pipes wear alike"


def test_a_degraded_twin_makes_the_other_suspect() -> None:
    job = pipes(6.0, failed=None)
    found = replace(job, degraded=frozenset({"left pipe"}))
    suspect, plain = paths_of(found).wear, paths_of(job).wear
    assert suspect is not None
    assert plain is not None
    assert suspect.mean() > 1.5 * plain.mean()


@pytest.mark.parametrize("variance", [-1.0, np.inf])
def test_a_wear_that_cannot_be_is_refused(variance: float) -> None:
    with pytest.raises(ValueError, match="left pipe: variance of wear"):
        SharedPlaces(("left pipe",), np.array([variance]))


def test_wear_that_does_not_vary_is_independence() -> None:
    never = SharedPlaces(("left pipe", "right pipe"), np.zeros(1))
    job = pipes(7.0)
    costs = [
        renew_while_open(job, n_paths=500, rng=np.random.default_rng(2), shared=shared).table
        for shared in ((), (never,))
    ]
    assert costs[0]["expected_cost_net"].to_list() == pytest.approx(
        costs[1]["expected_cost_net"].to_list(), rel=0.05
    )
