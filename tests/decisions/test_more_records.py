"""What more records would be worth, against the closed form of the normal case."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from scipy import stats

from wornby.decisions.cost_makeup import mean_cost_parts, mean_costs
from wornby.decisions.costs_of_jobs import PAST_JOBS, JobCosts, PlannedJob, job_costs
from wornby.decisions.job_unknowns import Unknowns
from wornby.decisions.more_records import ValueOfRecords, value_of_records
from wornby.decisions.prices import PriceAim

AIM = PriceAim(margin_share=0.25, job_risk=0.10, year_risk=0.05)
DEMAND = np.array([8, 9, 10, 11, 12, 14])
JOB = PlannedJob(
    name="clutch slave cylinder",
    version=None,
    other_version_weight=1.0,
    book_hours=7.0,
    book_hours_spread=0.2,
    prior_weight_jobs=3.0,
    most_hours=20.0,
    labour_cost_per_hour=40.0,
    parts_cost_net=110.0,
    follow_on_cost_net=30.0,
    other_cost_net=15.0,
    found_size_net=150.0,
    warranty_months=12.0,
)


def costs(n: int, *, planned: PlannedJob = JOB, found: float = 0.0) -> JobCosts:
    """The job after so many past ones, every fourth with found work."""
    rng = np.random.default_rng(n)
    past = PAST_JOBS.shape(
        pl.DataFrame(
            {
                "job": [f"J{i}" for i in range(n)],
                "version": ["short"] * n,
                "labour_hours": 7 * np.exp(0.15 * rng.standard_normal(n)),
                "parts_cost_net": [105.0] * n,
                "other_cost_net": [15.0] * n,
                "found_cost_net": [found if i % 4 == 0 else None for i in range(n)],
                "comeback_cost_net": [None] * n,
            },
            schema_overrides={"found_cost_net": pl.Float64, "comeback_cost_net": pl.Float64},
        )
    )
    return job_costs(
        planned,
        past,
        comeback_chances=np.array([0.01, 0.03]),
        jobs_next_year=DEMAND,
        n_draws=4000,
        rng=np.random.default_rng(8),
    )


def value(drawn: JobCosts, n_records: int, *, asked: float, seed: int = 3) -> ValueOfRecords:
    return value_of_records(
        JOB,
        drawn,
        n_records=n_records,
        asked_net=asked,
        aim=AIM,
        n_sets=400,
        confidence=0.90,
        rng=np.random.default_rng(seed),
    )


def test_the_parts_of_the_mean_cost_sum_to_what_is_drawn() -> None:
    stated = replace(JOB, cancelled_share=0.1, cancellation_cost_net=30.0, most_hours=8.0)
    drawn = costs(10, planned=stated, found=200.0)
    scatter = drawn.job.std() / np.sqrt(drawn.job.size)
    mean = mean_costs(stated, drawn.unknowns).mean()
    assert mean == pytest.approx(drawn.job.mean(), abs=4 * scatter)
    assert mean_cost_parts(stated, drawn.unknowns)["jobs called off"][0] == pytest.approx(30 / 9)


@pytest.mark.parametrize("from_break_even", [0.0, 0.5, -0.5])
def test_the_value_is_that_of_the_normal_loss_integral(from_break_even: float) -> None:
    """Two acts, linear loss, normal mean (Raiffa & Schlaifer 1961, ch. 5): EVSI = scale * L(u).

    L(0) = 0.3989 and L(0.5) = 0.1978 in their table: from memory. Spreads small, so nearly normal.
    """
    rng, n, n_records = np.random.default_rng(2), 2000, 5
    prior_sd, spread = 0.03, 0.05
    flat = np.full(n, 1e-9)
    unknowns = Unknowns(
        log_mean=np.log(7) + prior_sd * stats.norm.ppf((rng.permutation(n) + 0.5) / n),
        log_spread=np.full(n, spread),
        found_chance=flat,
        comeback_chance=flat,
        other_sizes=(np.array([15.0]), np.array([1.0])),
        found_sizes=(np.array([]), np.array([])),
        comeback_sizes=(np.array([]), np.array([])),
    )
    mean = mean_costs(JOB, unknowns)
    jobs = np.full(n, 10)
    drawn = JobCosts(mean, mean, jobs, mean * 10, mean * 10, unknowns)
    learnt_sd = 40 * 7 * prior_sd**2 / np.sqrt(prior_sd**2 + spread**2 / n_records)
    asked = (mean.mean() + from_break_even * learnt_sd) / 0.75
    told = value_of_records(
        JOB,
        drawn,
        n_records=n_records,
        asked_net=asked,
        aim=AIM,
        n_sets=3000,
        confidence=0.90,
        rng=rng,
    )
    u = abs(from_break_even)
    loss_integral = stats.norm.pdf(u) - u * stats.norm.sf(u)
    assert loss_integral == pytest.approx({0.0: 0.3989, 0.5: 0.1978}[u], abs=5e-5)
    assert told.value_net_per_year == pytest.approx(10 / 0.75 * learnt_sd * loss_integral, rel=0.1)
    if from_break_even:
        assert told.keeps_price == (from_break_even > 0)
    left = 40 * 7 * prior_sd / np.sqrt(1 + n_records * prior_sd**2 / spread**2)
    assert told.doubt_then_net == pytest.approx(1.645 * left, rel=0.05)


def test_more_records_are_worth_more_and_never_more_than_all() -> None:
    drawn = costs(3, found=200.0)
    break_even = float(mean_costs(JOB, drawn.unknowns).mean()) / 0.75
    one, ten, hundred = (value(drawn, n, asked=break_even) for n in (1, 10, 100))
    worth = [v.value_net_per_year for v in (one, ten, hundred)]
    assert 0 < worth[0] < worth[1] < worth[2] < 1.05 * hundred.perfect_net_per_year
    assert one.doubt_now_net > one.doubt_then_net > ten.doubt_then_net > hundred.doubt_then_net
    width = [v.floor_upper_net - v.floor_lower_net for v in (one, ten, hundred)]
    assert width[0] < width[1] < width[2]
    assert ten.floor_lower_net < ten.floor_now_net < ten.floor_upper_net


def test_many_past_jobs_leave_less_to_learn_than_few() -> None:
    few, many = costs(3), costs(200)
    asked = [float(mean_costs(JOB, c.unknowns).mean()) / 0.75 for c in (few, many)]
    of_few, of_many = (value(c, 10, asked=a) for c, a in zip((few, many), asked, strict=True))
    assert of_few.value_net_per_year > 5 * of_many.value_net_per_year


def test_a_price_far_above_the_floor_learns_nothing_that_changes_it() -> None:
    told = value(costs(30), 10, asked=1500.0)
    assert (told.value_net_per_year, told.changes_chance) == (0.0, 0.0)
    assert told.keeps_price


def test_what_cannot_be_asked_is_named() -> None:
    with pytest.raises(ValueError, match="cylinder: 0 records, 400 sets, price 600"):
        value(costs(3), 0, asked=600)
    with pytest.raises(ValueError, match="a price above 0"):
        value(costs(3), 1, asked=0.0)
