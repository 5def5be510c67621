"""What a workshop's other jobs say of found work on this one."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad
from scipy.stats import betabinom

from wornby.decisions.costs_of_jobs import PAST_JOBS, PlannedJob, job_costs
from wornby.decisions.found_elsewhere import (
    NOTHING_KNOWN,
    FoundElsewhere,
    FoundPrior,
    workshop_found,
)
from wornby.decisions.price_advice import job_found_chance
from wornby.decisions.price_question import planned_job
from wornby.records.catalogue_file import read_catalogue

DEMO = Path(__file__).parents[2] / "data_demo" / "workshop.toml"
NO_SIZES = np.zeros(0), np.zeros(0)


def elsewhere(*jobs: tuple[float, float]) -> FoundPrior:
    return workshop_found([FoundElsewhere(found, unfound, NO_SIZES) for found, unfound in jobs])


def mean(prior: FoundPrior) -> float:
    return prior.found / (prior.found + prior.unfound)


def past(n: int, *, found: int, size: float = 200.0, version: str = "short") -> pl.DataFrame:
    """So many past jobs, the first of them with found work."""
    frame = pl.DataFrame(
        {
            "job": [f"{version}{size}{i}" for i in range(n)],
            "version": [version] * n,
            "labour_hours": [6.0] * n,
            "parts_cost_net": [100.0] * n,
            "other_cost_net": [15.0] * n,
            "found_cost_net": [size if i < found else None for i in range(n)],
            "comeback_cost_net": [None] * n,
        },
        schema_overrides={"found_cost_net": pl.Float64, "comeback_cost_net": pl.Float64},
    )
    return PAST_JOBS.shape(frame)


@pytest.mark.parametrize("jobs", [[(2, 18), (3, 27)], [(0, 5), (1, 4), (0, 5)], [(1, 2)]])
def test_the_prior_has_the_moments_that_the_integral_over_the_model_has(
    jobs: list[tuple[int, int]],
) -> None:
    """Another way: scipy's beta-binomial, by adaptive quadrature over m and k to the -1/2."""

    def integral(power: int) -> float:
        def at(s: float, m: float) -> float:
            a, b = m / s**2, (1 - m) / s**2
            of_jobs = np.prod([betabinom.pmf(f, f + u, a, b) for f, u in jobs])
            moment = [1.0, m, m * (a + 1) / (a + b + 1)][power]
            return float(of_jobs * moment)

        return float(dblquad(at, 0, 1, 1e-3, 1, epsabs=1e-8, epsrel=1e-5)[0])

    whole, first, second = (integral(power) for power in range(3))
    known = elsewhere(*jobs)
    worth = known.found + known.unfound
    assert mean(known) == pytest.approx(first / whole, rel=2e-3)
    variance = second / whole - (first / whole) ** 2
    assert mean(known) * (1 - mean(known)) / (worth + 1) == pytest.approx(variance, rel=5e-3)


def test_the_prior_is_that_of_weighted_draws() -> None:
    """Brute force: chances drawn from the model, weighed by what was found on each job."""
    rng, n, jobs = np.random.default_rng(4), 400_000, [(1, 9), (0, 6), (4, 11)]
    m, k = rng.random(n), rng.random(n) ** -2.0
    chances = rng.beta(m * k, (1 - m) * k, size=(4, n))
    weight = np.prod(
        [c**f * (1 - c) ** u for c, (f, u) in zip(chances[1:], jobs, strict=True)], axis=0
    )
    centre = np.average(chances[0], weights=weight)
    variance = np.average((chances[0] - centre) ** 2, weights=weight)
    known = elsewhere(*jobs)
    assert mean(known) == pytest.approx(centre, rel=0.02)
    expected = mean(known) * (1 - mean(known)) / (known.found + known.unfound + 1)
    assert expected == pytest.approx(variance, rel=0.05)


def test_without_other_jobs_it_is_jeffreys() -> None:
    assert elsewhere() is NOTHING_KNOWN
    assert elsewhere((0, 0)) is NOTHING_KNOWN


def test_one_job_elsewhere_says_little_more_than_jeffreys() -> None:
    known = elsewhere((0, 1))
    assert 0.25 < mean(known) < 0.5
    assert known.found + known.unfound == pytest.approx(1.0, abs=0.6)


def test_other_jobs_that_agree_say_more_than_those_that_do_not() -> None:
    alike, apart = elsewhere(*[(5, 45)] * 6), elsewhere(*[(0, 50), (10, 40)] * 3)
    assert mean(alike) == pytest.approx(0.1, abs=0.03)
    assert alike.found + alike.unfound > 2 * (apart.found + apart.unfound)


@given(
    st.lists(
        st.tuples(st.integers(0, 40), st.integers(0, 200)).filter(lambda fu: sum(fu) > 0),
        min_size=1,
        max_size=6,
    )
)
def test_whatever_was_found_elsewhere_gives_a_proper_prior(jobs: list[tuple[int, int]]) -> None:
    known = elsewhere(*jobs)
    assert known.found > 0
    assert known.unfound > 0
    assert 0 < mean(known) < 1


@given(st.integers(0, 20), st.integers(1, 40))
def test_finding_it_once_more_elsewhere_never_lowers_the_chance(found: int, unfound: int) -> None:
    more = elsewhere((found + 1, unfound), (1, 9))
    assert mean(more) > mean(elsewhere((found, unfound + 1), (1, 9)))


def test_own_jobs_prevail_over_the_others_as_they_come(gearbox: PlannedJob) -> None:
    """Found on half of its own jobs, while other jobs hardly know it."""
    hardly = replace(gearbox, usual_found=elsewhere(*[(1, 49)] * 4))
    chances = [
        job_found_chance(hardly, past(n, found=n // 2), confidence=0.9).value or 0.0
        for n in (2, 10, 200)
    ]
    assert chances == sorted(chances)
    assert chances[-1] == pytest.approx(0.5, abs=0.02)


def test_sizes_of_other_jobs_count_together_as_one_of_this(gearbox: PlannedJob) -> None:
    """By hand: 100 and 300 elsewhere, mean 200, worth one; 500 twice here: (200 + 2 x 500) / 3."""
    sizes = np.array([100.0, 300.0]), np.array([1.0, 1.0])
    prior = workshop_found([FoundElsewhere(2, 18, sizes)])
    told = replace(gearbox, usual_found=prior)
    drawn = costs(told, past(20, found=2, size=500.0))
    assert np.average(drawn[0], weights=drawn[1]) == pytest.approx(400.0)
    unseen = costs(told, past(20, found=0))
    assert np.average(unseen[0], weights=unseen[1]) == pytest.approx(200.0)


def costs(planned: PlannedJob, jobs: pl.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """The sizes of found work and what each counts, as the costs are drawn with them."""
    made = job_costs(
        planned,
        jobs,
        comeback_chances=np.array([0.02]),
        jobs_next_year=np.array([6]),
        n_draws=200,
        rng=np.random.default_rng(3),
    )
    return made.unknowns.found_sizes


@pytest.fixture(scope="module")
def gearbox() -> PlannedJob:
    """The demo's first candidate without any past."""
    catalogue = read_catalogue(DEMO)
    return planned_job(catalogue, catalogue.fixed_price_jobs[0])


def test_a_candidate_learns_from_the_others_and_from_no_visit_twice() -> None:
    catalogue = read_catalogue(DEMO)
    first, other = catalogue.fixed_price_jobs[:2]
    done = {first.name: past(5, found=0), other.name: past(30, found=3, size=90.0)}
    learnt = planned_job(catalogue, first, done=done).usual_found
    assert mean(learnt) == pytest.approx(mean(elsewhere((3, 27))))
    assert learnt.sizes[0].tolist() == [90.0] * 3
    done[other.name] = done[first.name]
    assert planned_job(catalogue, first, done=done).usual_found is NOTHING_KNOWN


def test_other_versions_say_less_of_a_version() -> None:
    """workshop.toml: a job on another version counts as 0.3 of one."""
    catalogue = read_catalogue(DEMO)
    first, other = catalogue.fixed_price_jobs[:2]
    done = {other.name: past(30, found=3, version="long")}
    learnt = planned_job(catalogue, first, version="short", done=done).usual_found
    assert mean(learnt) == pytest.approx(mean(elsewhere((0.9, 8.1))))
