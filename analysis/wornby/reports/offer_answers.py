"""Answers on business: what to offer at a fixed price, and what failures to expect."""

from typing import Any

import numpy as np
import polars as pl

from wornby.decisions.book import parts_in_the_book, return_chance
from wornby.decisions.expected import ExpectedFailures, combined, expected_failures
from wornby.decisions.price_question import PricedJob, priced_job
from wornby.decisions.stated_costs import money_of
from wornby.records.catalogue import CandidateJob, Component
from wornby.reports.amounts import money, percent
from wornby.reports.answer import Answer
from wornby.reports.workshop import Workshop, life_in_years, pace_of

N_PRICE_DRAWS = 10_000


def price_answer(workshop: Workshop) -> Answer:
    """The jobs worth offering at a fixed price, at what price, and why."""
    priced = [_priced(workshop, job) for job in workshop.catalogue.fixed_price_jobs]
    currency = workshop.catalogue.currency
    tax = 1 + money_of(workshop.catalogue).tax_rate
    rows = [_typed_price(p, tax) for p in priced]
    people = [
        {
            "job": row["job"],
            "verdict": row["verdict"],
            "price before tax": money(row["price_net"], currency),
            "with tax": money(row["price_gross"], currency),
            "cost, 9 jobs in 10": f"{money(row['cost_lower_net'], currency)} to "
            f"{money(row['cost_upper_net'], currency)}",
            "past jobs": str(row["past_jobs"]),
            "now asked": money(row["present_price_net"], currency),
            "chance of a loss": percent(row["job_loss_chance"]),
            "jobs next year": f"{row['jobs_next_year']:.0f} ({row['jobs_lower']} to "
            f"{row['jobs_upper']})",
            "why": row["reason"],
        }
        for row in rows
    ]
    money_ = money_of(workshop.catalogue)
    return Answer(
        "Jobs at a fixed price",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            f"Least price with a margin of {percent(money_.target_margin)}, a chance of at most "
            f"{percent(money_.job_loss_risk)} of losing money on one job and "
            f"{percent(money_.year_loss_risk)} over the year. Hours from past jobs, parts at "
            "today's list, follow-on work, found work and comebacks within the warranty included.",
        ),
    )


def _priced(workshop: Workshop, job: CandidateJob) -> PricedJob:
    pace = pace_of(workshop)
    lives = [
        life_in_years(
            workshop, workshop.catalogue.component(name), origin="renewed", miles_per_year=pace
        )[0]
        for name in job.renews
    ]
    soonest = min(lives, key=lambda life: float(life.survival(job.warranty_months / 12).mean()))
    return priced_job(
        workshop.records,
        workshop.histories,
        job,
        renewed_life=soonest,
        n_draws=N_PRICE_DRAWS,
        rng=workshop.rng(job.name),
    )


def _typed_price(priced: PricedJob, tax: float) -> dict[str, Any]:
    advice, job = priced.advice, priced.job
    at = advice.table.filter(pl.col("price_net") == advice.price_net).row(0, named=True)
    lower, upper = np.quantile(advice.costs.job, [0.05, 0.95])
    jobs_lower, jobs_upper = np.quantile(priced.jobs_next_year, [0.05, 0.95], method="nearest")
    return {
        "job": job.name,
        "verdict": advice.verdict,
        "price_net": advice.price_net,
        "price_gross": advice.price_net * tax,
        "cost_mean_net": float(advice.costs.job.mean()),
        "cost_lower_net": float(lower),
        "cost_upper_net": float(upper),
        "present_price_net": job.present_price_net,
        "job_loss_chance": at["job_loss_chance"],
        "year_loss_chance": at["year_loss_chance"],
        "year_profit_net": at["year_profit_net"],
        "past_jobs": advice.past.height,
        "jobs_next_year": float(np.mean(priced.jobs_next_year)),
        "jobs_lower": int(jobs_lower),
        "jobs_upper": int(jobs_upper),
        "reason": advice.reason,
    }


def expected_answer(workshop: Workshop) -> Answer:
    """Failures to expect in the next 12 months from the vehicles in the book."""
    parts = parts_in_the_book(workshop.records, workshop.histories)
    returns = return_chance(workshop.records)
    rows: list[dict[str, Any]] = []
    for component in workshop.catalogue.components.values():
        if component.name not in workshop.original:
            continue
        told = _expected(workshop, component, parts, returns)
        rows.append(
            {
                "component": component.name,
                "parts": told.n_parts,
                "expected_failures": told.mean,
                "lower": told.lower,
                "upper": told.upper,
                "confidence": told.confidence,
            }
        )
    people = [
        {
            "component": r["component"],
            "parts in the book": str(r["parts"]),
            "failures in 12 months": f"{r['expected_failures']:.0f} ({r['lower']} to {r['upper']})",
        }
        for r in sorted(rows, key=lambda r: -float(r["expected_failures"]))
    ]
    return Answer(
        "Failures to expect in the next 12 months",
        pl.DataFrame(people),
        pl.DataFrame(rows),
        (
            f"Failures that come here: {percent(returns)} of vehicles come back. Parts of unknown "
            "age are taken to be as old as the known ones of their kind.",
        ),
    )


def _expected(
    workshop: Workshop, component: Component, parts: pl.DataFrame, returns: float
) -> ExpectedFailures:
    """One component's failures, original and renewed parts each on their own curve.

    Miles count as years at the median vehicle's pace, so that a year ahead is more than one for
    a vehicle that goes farther.
    """
    pace = pace_of(workshop)
    by_age = component.scale == "age"
    gone = pl.col("age_years") if by_age else pl.col("distance_mi") / pace
    ahead = pl.lit(1.0) if by_age else pl.col("miles_per_year").clip(lower_bound=1.0) / pace
    ours = parts.filter(component=component.name).select("origin", gone=gone, ahead=ahead)
    filled = ours.with_columns(pl.col("gone").fill_null(pl.col("gone").median()).fill_null(0.0))
    renewed = pl.col("origin") == "renewed"
    kinds = {"original": filled.filter(~renewed), "renewed": filled.filter(renewed)}
    return combined(
        [
            expected_failures(
                life_in_years(workshop, component, origin=origin, miles_per_year=pace)[0],
                kind["gone"].to_numpy(),
                horizon_years=kind["ahead"].to_numpy(),
                return_chance=returns,
                confidence=workshop.confidence,
            )
            for origin, kind in kinds.items()
            if kind.height
        ]
    )
