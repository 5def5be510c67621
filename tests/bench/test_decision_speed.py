"""How long decisions take, as indications on two cores; run by `make bench`."""

from time import perf_counter

import numpy as np
import polars as pl

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.block import block_replacement
from wornby.decisions.costs import AccessGroup, PartCosts
from wornby.decisions.costs_of_jobs import PAST_JOBS, PlannedJob
from wornby.decisions.exact_programme import opening_programme
from wornby.decisions.expected import expected_failures
from wornby.decisions.open_job import Neighbour, OpenJob
from wornby.decisions.opportunity import opportunity_replacement
from wornby.decisions.price_advice import VerdictThresholds, fixed_price
from wornby.decisions.prices import PriceAim
from wornby.decisions.renewal_age import age_replacement
from wornby.decisions.while_open import renew_while_open

GEARBOX_JOB = PlannedJob(
    name="clutch slave cylinder",
    version=None,
    other_version_weight=1.0,
    book_hours=7.0,
    book_hours_spread=0.2,
    prior_weight_jobs=5.0,
    most_hours=20.0,
    labour_cost_per_hour=40.0,
    parts_cost_net=110.0,
    follow_on_cost_net=30.0,
    other_cost_net=15.0,
    found_size_net=150.0,
    warranty_months=12.0,
)


def drawn(shape: float, scale: float, *, n: int = 2000) -> WeibullDraws:
    rng = np.random.default_rng(7)
    return WeibullDraws(
        shape=shape * np.exp(0.15 * rng.standard_normal(n)),
        scale=scale * np.exp(0.08 * rng.standard_normal(n)),
        unit="years",
    )


def four_neighbours(*, n_draws: int) -> OpenJob:
    lives = [drawn(shape, scale, n=n_draws) for shape, scale in ((2.5, 12), (3, 14), (2, 18))]
    lives.append(drawn(1.2, 20, n=n_draws))
    parts = [PartCosts(f"part {i}", 0.5, 60.0, 80.0, safety=False) for i in range(4)]
    return OpenJob(
        group=AccessGroup("gearbox out", access_hours=6.0, follow_on_cost_net=40.0),
        neighbours=tuple(
            Neighbour(part, 10.0, life, life) for part, life in zip(parts, lives, strict=True)
        ),
        failed="part 0",
        degraded=frozenset(),
        horizon_years=4.0,
        labour_price_per_hour=70.0,
    )


def test_two_thousand_draws_of_renewal_age_take_less_than_a_second() -> None:
    start = perf_counter()
    age_replacement(drawn(2.2, 9), planned_cost=400, failure_cost=900)
    assert perf_counter() - start < 1.0


def test_three_hundred_draws_of_openings_and_blocks_take_less_than_a_second() -> None:
    life = drawn(2.2, 9, n=300)
    start = perf_counter()
    opportunity_replacement(life, openings_per_year=0.2, renewal_cost=100, failure_cost=900)
    block_replacement(life, planned_cost=400, failure_cost=900, steps=300)
    assert perf_counter() - start < 1.0


def test_four_hundred_vehicles_take_less_than_a_second() -> None:
    start = perf_counter()
    ages = np.linspace(0, 20, 400)
    expected_failures(drawn(2.5, 12), ages, horizon_years=1, return_chance=0.8)
    assert perf_counter() - start < 1.0


def test_four_components_on_twenty_thousand_paths_take_less_than_three_seconds() -> None:
    job = four_neighbours(n_draws=2000)
    start = perf_counter()
    renew_while_open(job, n_paths=20_000, rng=np.random.default_rng(5))
    assert perf_counter() - start < 3.0


def test_four_components_over_thirty_steps_take_less_than_a_second() -> None:
    job = four_neighbours(n_draws=1)
    start = perf_counter()
    opening_programme(job, steps=30, later="renew what is best")
    assert perf_counter() - start < 1


def test_three_jobs_are_priced_in_less_than_half_a_second() -> None:
    rng = np.random.default_rng(30)
    past = PAST_JOBS.shape(
        pl.DataFrame(
            {
                "job": [f"J{i}" for i in range(30)],
                "version": "short",
                "labour_hours": 7 * np.exp(0.15 * rng.standard_normal(30)),
                "parts_cost_net": 105.0,
                "other_cost_net": 15.0,
                "found_cost_net": None,
                "comeback_cost_net": None,
            },
            schema_overrides={"found_cost_net": pl.Float64, "comeback_cost_net": pl.Float64},
        )
    )
    start = perf_counter()
    for _ in range(3):
        fixed_price(
            GEARBOX_JOB,
            past,
            comeback_chances=np.array([0.002]),
            jobs_next_year=np.array([8, 9, 10, 11, 12, 14]),
            aim=PriceAim(margin_share=0.25, job_risk=0.10, year_risk=0.05),
            thresholds=VerdictThresholds(5, 2, 0.10),
            prices=[550.0, 650.0, 750.0],
            n_draws=10_000,
            rng=np.random.default_rng(6),
        )
    assert perf_counter() - start < 0.5
