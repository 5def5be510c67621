"""Answers on prices: which jobs to offer at a fixed price, and where to stop."""

from typing import Any

import numpy as np
import polars as pl

from wornby.decisions.price_question import DEMAND_YEARS, PricedJob, priced_job
from wornby.decisions.stated_costs import money_of
from wornby.errors import EstimateError
from wornby.records.catalogue import CandidateJob
from wornby.reports.amounts import money, percent
from wornby.reports.answer import Answer
from wornby.reports.workshop import Workshop, life_in_years, pace_of

N_PRICE_DRAWS = 10_000


def price_answer(workshop: Workshop) -> Answer:
    """The jobs worth offering at a fixed price, the least price, and what today's earns."""
    currency, money_ = workshop.catalogue.currency, money_of(workshop.catalogue)
    if not workshop.catalogue.fixed_price_jobs:
        raise EstimateError("workshop.toml: no [[fixed_price_job]]; add one for each job to price")
    rows = [_typed_price(workshop, job) for job in workshop.catalogue.fixed_price_jobs]
    return Answer(
        "Jobs at a fixed price",
        pl.DataFrame([_people_price(row, currency) for row in rows]),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            "The floor is the least price, before tax, that keeps a margin of "
            f"{percent(money_.target_margin)}, a chance of at most "
            f"{percent(money_.job_loss_risk)} of losing money on one job and "
            f"{percent(money_.year_loss_risk)} over the year; it is where to stop, not what to "
            "ask. Hours from past jobs, parts at today's list in the grade that the job names, "
            "follow-on work, found work and comebacks within the warranty included.",
            f"Jobs next year are judged by those of the last {DEMAND_YEARS} years whose strip-down "
            "was for this job; parts renewed in passing are no such job.",
        ),
    )


def _typed_price(workshop: Workshop, job: CandidateJob) -> dict[str, Any]:
    tax = 1 + money_of(workshop.catalogue).tax_rate
    try:
        priced = _priced(workshop, job)
    except EstimateError as error:
        return {
            **dict.fromkeys(PRICE_COLUMNS),
            "job": job.name,
            "verdict": "not known",
            "reason": str(error),
        }
    advice = priced.advice
    at, now = (
        advice.table.filter(pl.col("price_net") == price).row(0, named=True)
        for price in (advice.price_net, job.present_price_net)
    )
    lower, upper = np.quantile(advice.costs.job, [0.05, 0.95])
    jobs_lower, jobs_upper = np.quantile(priced.jobs_next_year, [0.05, 0.95], method="nearest")
    values = (
        job.name, advice.verdict, advice.price_net, advice.price_net * tax,
        float(advice.costs.job.mean()), float(lower), float(upper), at["job_loss_chance"],
        at["year_profit_net"], job.present_price_net, now["expected_margin_share"],
        now["job_loss_chance"], now["year_profit_net"], now["year_profit_lower_net"],
        now["year_profit_upper_net"], advice.past.height, float(np.mean(priced.jobs_next_year)),
        int(jobs_lower), int(jobs_upper), _why(priced),
    )  # fmt: skip
    return dict(zip(PRICE_COLUMNS, values, strict=True))


PRICE_COLUMNS = (
    "job", "verdict", "floor_price_net", "floor_price_gross", "cost_mean_net", "cost_lower_net",
    "cost_upper_net", "job_loss_chance_at_floor", "year_profit_at_floor_net", "present_price_net",
    "margin_now_share", "job_loss_chance_now", "year_profit_now_net", "year_profit_now_lower_net",
    "year_profit_now_upper_net", "past_jobs", "jobs_next_year", "jobs_lower", "jobs_upper",
    "reason",
)  # fmt: skip


def _why(priced: PricedJob) -> str:
    """The verdict's reason, and whether today's price lies above the floor."""
    advice, present = priced.advice, priced.job.present_price_net
    if advice.verdict in ("too few records", "quote each time"):
        return advice.reason
    if present >= advice.price_net:
        return "today's price earns more than the aim and keeps the risks: keep it"
    return f"today's price lies below the floor, set by {advice.price.bound_by}"


def _people_price(row: dict[str, Any], currency: str) -> dict[str, str]:
    if row["verdict"] == "not known":
        return {
            **dict.fromkeys(PEOPLE_COLUMNS, ""),
            "job": row["job"],
            "verdict": "not known",
            "why": row["reason"],
        }
    earned = (
        f"{money(row['year_profit_now_lower_net'], currency)} to "
        f"{money(row['year_profit_now_upper_net'], currency)}"
    )
    values = (
        row["job"],
        row["verdict"],
        f"{money(row['floor_price_net'], currency)} ({money(row['floor_price_gross'], currency)})",
        money(row["present_price_net"], currency),
        percent(row["margin_now_share"]),
        percent(row["job_loss_chance_now"]),
        f"{money(row['cost_lower_net'], currency)} to {money(row['cost_upper_net'], currency)}",
        str(row["past_jobs"]),
        f"{row['jobs_next_year']:.0f} ({row['jobs_lower']} to {row['jobs_upper']})",
        f"{money(row['year_profit_now_net'], currency)} ({earned})",
        row["reason"],
    )
    return dict(zip(PEOPLE_COLUMNS, values, strict=True))


PEOPLE_COLUMNS = (
    "job", "verdict", "floor (with tax)", "asked now", "margin now", "chance of a loss now",
    "cost, 9 jobs in 10", "past jobs", "jobs next year", "profit next year as asked", "why",
)  # fmt: skip


def _priced(workshop: Workshop, job: CandidateJob) -> PricedJob:
    pace = pace_of(workshop)
    places = [
        component
        for component in map(workshop.catalogue.component, job.renews)
        for _ in component.positions or ("",)
    ]
    lives = [
        life_in_years(workshop, c, origin="renewed", grade=job.grade, miles_per_year=pace)[0]
        for c in places
    ]
    return priced_job(
        workshop.records,
        workshop.histories,
        job,
        renewed_lives=lives,
        n_draws=N_PRICE_DRAWS,
        rng=workshop.rng(job.name),
    )
