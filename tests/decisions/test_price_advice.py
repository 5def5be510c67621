import math
from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs_of_jobs import (
    PAST_JOBS,
    JobCosts,
    PlannedJob,
    comeback_chances,
    job_costs,
)
from wornby.decisions.price_advice import (
    FixedPriceAdvice,
    VerdictThresholds,
    fixed_price,
    found_chance,
)
from wornby.decisions.prices import PriceAim, price_for
from wornby.errors import EstimateError

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
SOUND = WeibullDraws(np.array([2.5]), np.array([12.0]), "years")
AIM = PriceAim(margin_share=0.25, job_risk=0.10, year_risk=0.05)
AT = VerdictThresholds(fewest_past_jobs=5, fewest_jobs_next_year=2, most_loading_share=0.10)
DEMAND = np.array([8, 9, 10, 11, 12, 14])


def past(n: int, *, found: float = 0.0, every: int = 4, spread: float = 0.15) -> pl.DataFrame:
    rng = np.random.default_rng(n)
    hours = 7 * np.exp(spread * rng.standard_normal(n))
    return PAST_JOBS.shape(
        pl.DataFrame(
            {
                "job": [f"J{i}" for i in range(n)],
                "version": ["short" if i % 2 else "long" for i in range(n)],
                "labour_hours": hours,
                "parts_cost_net": [105.0] * n,
                "other_cost_net": [15.0] * n,
                "found_cost_net": [found if i % every == 0 else None for i in range(n)],
                "comeback_cost_net": [None] * n,
            },
            schema_overrides={"found_cost_net": pl.Float64, "comeback_cost_net": pl.Float64},
        )
    )


def chances(life: WeibullDraws) -> NDArray[np.float64]:
    """That the one renewed part comes back within the warranty of GEARBOX_JOB."""
    return comeback_chances([life], warranty_months=GEARBOX_JOB.warranty_months)


def advice(
    planned: PlannedJob, jobs: pl.DataFrame, *, at: VerdictThresholds = AT
) -> FixedPriceAdvice:
    return fixed_price(
        planned,
        jobs,
        comeback_chances=chances(SOUND),
        jobs_next_year=DEMAND,
        aim=AIM,
        thresholds=at,
        prices=[550.0, 650.0, 750.0],
        n_draws=10_000,
        rng=np.random.default_rng(6),
    )


def costs(planned: PlannedJob, jobs: pl.DataFrame, *, life: WeibullDraws = SOUND) -> JobCosts:
    return job_costs(
        planned,
        jobs,
        comeback_chances=chances(life),
        jobs_next_year=DEMAND,
        n_draws=40_000,
        rng=np.random.default_rng(8),
    )


def test_many_like_jobs_cost_what_the_bill_of_their_kind_says() -> None:
    # by hand: hours lognormal, so the mean is 7 exp(0.15^2 / 2); found work 1 in 4 at 200;
    # the renewed part fails within a year with 1 - exp(-(1/12)^2.5), and the job is done again
    drawn = costs(GEARBOX_JOB, past(4000, found=200.0))
    labour_and_parts = 40 * 7 * math.exp(0.15**2 / 2) + 110 + 30
    comeback = -math.expm1(-((1 / 12) ** 2.5)) * labour_and_parts
    expected = labour_and_parts + 15 + 0.25 * 200 + comeback
    assert drawn.job.mean() == pytest.approx(expected, abs=3.0)
    assert drawn.job_without_found.mean() == pytest.approx(expected - 50, abs=3.0)
    assert drawn.year.mean() == pytest.approx(drawn.year_jobs.mean() * expected, rel=0.01)


def test_follow_on_work_is_never_left_out() -> None:
    # common practice, no source: cooling work entails bleeding, a subframe a wheel alignment
    without = costs(replace(GEARBOX_JOB, follow_on_cost_net=0.0), past(10))
    assert costs(GEARBOX_JOB, past(10)).job.min() >= without.job.min() + 30.0 - 1e-9


def test_three_past_jobs_give_a_wide_answer_and_thirty_a_narrower_one() -> None:
    few, many = advice(GEARBOX_JOB, past(3)), advice(GEARBOX_JOB, past(300))
    spread = [np.subtract(*np.quantile(a.costs.job, [0.95, 0.05])) for a in (few, many)]
    assert few.verdict == "too few records"
    assert few.reason == "the records hold 3 such jobs, fewer than 5"
    assert spread[0] > 1.2 * spread[1]


def test_the_price_keeps_its_margin_and_both_risks() -> None:
    answer = advice(GEARBOX_JOB, past(30, found=200.0))
    price = answer.price.price_net
    row = answer.table.filter(pl.col("price_net") == price).row(0, named=True)
    assert row["expected_margin_share"] >= 0.25 - 1e-9
    assert row["job_loss_chance"] <= 0.10
    assert row["year_loss_chance"] <= 0.05
    lower = price * (1 - 1e-4)
    tight = [
        1 - answer.costs.job.mean() / lower < 0.25,
        (answer.costs.job > lower).mean() > 0.10,
        (lower * answer.costs.year_jobs < answer.costs.year).mean() > 0.05,
    ]
    assert any(tight)


def test_the_menu_falls_in_risk_as_prices_rise() -> None:
    table = advice(GEARBOX_JOB, past(30, found=200.0)).table
    assert table["price_net"].is_sorted()
    assert table["job_loss_chance"].is_sorted(descending=True)
    assert table["year_loss_chance"].is_sorted(descending=True)
    assert table["year_profit_net"].is_sorted()


def test_plain_work_is_offered() -> None:
    answer = advice(GEARBOX_JOB, past(30))
    assert answer.verdict == "offer"
    assert answer.price_net == answer.price.price_net


def test_rare_dear_found_work_is_excluded() -> None:
    # common practice, no source: a corroded brake pipe is found above a gearbox taken down
    answer = advice(GEARBOX_JOB, past(30, found=900.0, every=5))
    assert answer.verdict == "offer with stated exclusions"
    assert answer.price_net == answer.price_without_found.price_net < answer.price.price_net
    assert "when found work is charged by itself" in answer.reason


def test_wild_hours_are_quoted_each_time() -> None:
    wild = replace(GEARBOX_JOB, most_hours=60.0)
    answer = advice(wild, past(30, spread=0.8))
    assert answer.verdict == "quote each time"
    assert answer.price.bound_by == "the risk on a job"


def test_work_that_hardly_comes_is_quoted_each_time() -> None:
    answer = advice(GEARBOX_JOB, past(30), at=replace(AT, fewest_jobs_next_year=50))
    assert answer.verdict == "quote each time"
    assert answer.reason == "10.7 such jobs are expected next year, fewer than 50"


def test_no_job_costs_more_labour_than_where_work_stops() -> None:
    drawn = costs(replace(GEARBOX_JOB, most_hours=7.0), past(10, spread=0.8))
    done_again = 2 * (7.0 * 40 + 140)
    assert drawn.job_without_found.max() <= done_again + 15 + 1e-9


def test_a_poor_part_comes_back_within_warranty_and_costs_it() -> None:
    poor = WeibullDraws(np.array([1.0]), np.array([2.0]), "years")
    jobs = past(200)
    once = costs(GEARBOX_JOB, jobs).job.mean()
    expected = -math.expm1(-0.5) * (once - 15 - 150 * 0.5 / 201)
    extra = costs(GEARBOX_JOB, jobs, life=poor).job.mean() - once
    assert extra == pytest.approx(expected, rel=0.02)


def test_seen_comebacks_cost_what_they_did() -> None:
    jobs = past(10).with_columns(comeback_cost_net=pl.Series([500.0] + [None] * 9))
    certain = WeibullDraws(np.array([1.0]), np.array([1e-3]), "years")
    dearer = jobs.with_columns(pl.col("comeback_cost_net") + 100)
    before, after = costs(GEARBOX_JOB, jobs, life=certain), costs(GEARBOX_JOB, dearer, life=certain)
    assert (after.job - before.job).mean() == pytest.approx(100.0)


def test_other_versions_weigh_less() -> None:
    jobs = past(20).with_columns(
        labour_hours=pl.when(pl.col("version") == "long").then(12.0).otherwise(7.0)
    )
    short = replace(GEARBOX_JOB, version="short")
    means = [
        costs(replace(short, other_version_weight=weight), jobs).job.mean()
        for weight in (0.0, 0.3, 1.0)
    ]
    assert means == sorted(means)
    assert advice(replace(short, other_version_weight=0.3), jobs).facts.past_jobs == pytest.approx(
        13
    )


def test_jobs_of_a_year_share_what_is_unknown() -> None:
    # were they independent, the year's mean would scatter like one job's over root n
    drawn = costs(GEARBOX_JOB, past(3))
    each = drawn.year / drawn.year_jobs
    assert each.std() > 1.3 * drawn.job.std() / math.sqrt(DEMAND.mean())


def test_work_never_seen_has_only_an_upper_limit() -> None:
    never = found_chance(0, 20, confidence=0.95)
    seldom = found_chance(2, 18, confidence=0.95)
    # Jeffreys, 0 of 20: computed with R as qbeta(0.95, 0.5, 20.5)
    assert never.upper == pytest.approx(0.0905, abs=0.001)
    assert (never.lower, never.note[:10]) == (0.0, "never seen")
    assert seldom.lower is not None
    assert 0 < seldom.lower < 0.1 < (seldom.upper or 0)


def test_parts_that_got_dearer_are_told_by_what_they_cost_then() -> None:
    answer = advice(replace(GEARBOX_JOB, parts_cost_net=180.0), past(10))
    assert answer.parts_then_net == pytest.approx(105.0)
    assert advice(GEARBOX_JOB, past(10)).parts_then_net is None


def test_the_evidence_is_kept_with_its_intervals() -> None:
    answer = advice(GEARBOX_JOB, past(30, found=200.0))
    hours, found, comeback = answer.mean_hours, answer.found_chance, answer.comeback_chance
    assert hours.value is not None
    assert hours.lower is not None
    assert hours.upper is not None
    assert hours.lower < 7 * math.exp(0.15**2 / 2) < hours.upper
    assert found.value == pytest.approx((8 + 0.5) / 31)
    assert comeback.value == pytest.approx(-math.expm1(-((1 / 12) ** 2.5)))
    assert answer.past.height == 30


def test_years_without_a_job_lose_nothing() -> None:
    job, year = np.full(100, 80.0), np.zeros(100)
    price = price_for(job, year, np.zeros(100, dtype=np.int64), aim=AIM)
    assert price.bound_by == "the margin"
    assert price.price_net == pytest.approx(80 / 0.75)


def test_what_cannot_be_is_named() -> None:
    with pytest.raises(ValueError, match=r"cylinder: parts_cost_net is -1"):
        replace(GEARBOX_JOB, parts_cost_net=-1.0)
    with pytest.raises(ValueError, match="book_hours is 0, wanted above 0"):
        replace(GEARBOX_JOB, book_hours=0)
    with pytest.raises(ValueError, match=r"most_hours 5\.0 .* wanted at least the book hours"):
        replace(GEARBOX_JOB, most_hours=5.0)
    with pytest.raises(ValueError, match="year_risk is 0, wanted between 0 and 1"):
        PriceAim(margin_share=0.2, job_risk=0.1, year_risk=0)
    with pytest.raises(EstimateError, match="job J0 has no labour hours or a negative cost"):
        costs(GEARBOX_JOB, past(3).with_columns(labour_hours=pl.lit(0.0)))
    with pytest.raises(ValueError, match="0 counts of next year's jobs"):
        job_costs(
            GEARBOX_JOB,
            past(3),
            comeback_chances=chances(SOUND),
            jobs_next_year=np.array([], dtype=np.int64),
            n_draws=1000,
            rng=np.random.default_rng(1),
        )


def true_jobs(n: int, *, rng: np.random.Generator, hours: float, found: float) -> pl.DataFrame:
    return PAST_JOBS.shape(
        pl.DataFrame(
            {
                "job": [f"J{i}" for i in range(n)],
                "version": ["short"] * n,
                "labour_hours": hours * np.exp(0.2 * rng.standard_normal(n)),
                "parts_cost_net": [110.0] * n,
                "other_cost_net": [15.0] * n,
                "found_cost_net": np.where(rng.random(n) < found, 200.0, 0.0),
                "comeback_cost_net": [None] * n,
            },
            schema_overrides={"comeback_cost_net": pl.Float64},
        )
    )


def test_years_at_the_aimed_price_lose_money_as_often_as_aimed() -> None:
    """Workshops with a truth of their own price by 20 past jobs, then live a year."""
    losses, aimed, n_years = 0, 0.2, 500
    for seed in range(n_years):
        rng = np.random.default_rng(seed)
        truth = {"hours": 7 * np.exp(0.2 * rng.standard_normal()), "found": rng.beta(1, 6)}
        drawn = job_costs(
            GEARBOX_JOB,
            true_jobs(20, rng=rng, **truth),
            comeback_chances=chances(WeibullDraws(np.array([3.0]), np.array([100.0]), "years")),
            jobs_next_year=DEMAND,
            n_draws=800,
            rng=rng,
        )
        price = np.quantile(drawn.year / drawn.year_jobs, 1 - aimed)
        lived = true_jobs(int(rng.choice(DEMAND)), rng=rng, **truth)
        cost = lived["labour_hours"] * 40 + 140 + 15 + lived["found_cost_net"]
        losses += bool(cost.to_numpy().mean() > price)
    assert losses / n_years == pytest.approx(aimed, abs=0.03)
