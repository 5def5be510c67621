"""Answers on prices: which jobs to offer at a fixed price, and where to stop."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import polars as pl

from wornby.decisions.jobs_done import in_sight
from wornby.decisions.price_question import DEMAND_YEARS, PricedJob
from wornby.decisions.stated_costs import money_of
from wornby.errors import EstimateError
from wornby.records.catalogue import CandidateJob, Catalogue
from wornby.reports.amounts import PER_CENT, money, percent, simulated_chance
from wornby.reports.answer import Answer
from wornby.reports.priced_jobs import N_PRICE_DRAWS, candidates, done_by_the_workshop, priced
from wornby.reports.sentences import cautions_for
from wornby.reports.workshop import Workshop


def price_answer(workshop: Workshop) -> Answer:
    """The jobs worth offering at a fixed price, the least price, and what today's earns."""
    currency, done = workshop.catalogue.currency, done_by_the_workshop(workshop)
    rows = [typed_price(workshop, job, done) for job in candidates(workshop)]
    people, why = without_one_reason(pl.DataFrame([_people_price(row, currency) for row in rows]))
    return Answer(
        "Jobs at a fixed price",
        people,
        pl.DataFrame(rows, infer_schema_length=None),
        (*why, *price_notes(workshop, candidates(workshop), done)),
    )


def without_one_reason(people: pl.DataFrame) -> tuple[pl.DataFrame, list[str]]:
    """A reason that every row shares is said once, under the table."""
    if people.height == 1 or people["why"].n_unique() > 1:
        return people, []
    return people.drop("why"), [f"Why, in every row: {people['why'][0]}."]


def price_notes(
    workshop: Workshop, jobs: Sequence[CandidateJob], done: Mapping[str, pl.DataFrame]
) -> tuple[str, ...]:
    """What a floor price is, what it holds, what it rests on, and what to beware of."""
    return (
        floor_sentence(workshop.catalogue),
        "Hours from past jobs and, where these are few, from what the workshop takes over the "
        "book on its other jobs; parts and companion parts at today's list in the grade that the "
        "job names; follow-on work, found work and comebacks within the warranty included.",
        f"Jobs next year are judged by those of the last {DEMAND_YEARS} years whose strip-down "
        "was for this job; parts renewed in passing are no such job.",
        restated_sentence(workshop.catalogue, [done[job.name] for job in jobs]),
        cancelled_sentence(workshop.catalogue),
        *safety_notes(workshop.catalogue, jobs),
    )


def floor_sentence(catalogue: Catalogue) -> str:
    """What a floor price is."""
    money_ = money_of(catalogue)
    return (
        "The floor is the least price, before tax, that keeps a margin of "
        f"{percent(money_.target_margin)}, a chance of at most {percent(money_.job_loss_risk)} of "
        f"losing money on one job and {percent(money_.year_loss_risk)} over the year; it is "
        "where to stop, not what to ask."
    )


def restated_sentence(catalogue: Catalogue, past: Sequence[pl.DataFrame]) -> str:
    """What of past costs a price list brings to today's, and what stands as paid."""
    sums = [sum(float(jobs[c].sum()) for jobs in past) for c in ("restated_net", "as_paid_net")]
    if not any(sums):
        return "No past job has found work, comebacks or consumables to bring to today's costs."
    restated, as_paid = (money(total, catalogue.currency) for total in sums)
    if not catalogue.price_lists:
        return (
            "workshop.toml has no [[price_list]]: the parts of past found work and comebacks, and "
            f"consumables, {as_paid} in all, stand as paid then; labour is at today's cost."
        )
    return (
        f"Of the parts of past found work and comebacks, and consumables, {restated} is brought "
        f"to today's costs by the price list of its day; {as_paid}, which no list covers, stands "
        "as paid then. Labour is at today's cost."
    )


def cancelled_sentence(catalogue: Catalogue) -> str:
    """What jobs that are called off cost, where workshop.toml says so."""
    rules = catalogue.price_rules
    if rules is None or not rules.cancelled_share:
        return (
            "Jobs called off are not in the price: records hold none, and workshop.toml states no "
            "cancelled_share."
        )
    return (
        f"Of the jobs booked, {percent(rules.cancelled_share)} are taken to be called off, each at "
        f"{money(rules.cancellation_cost_net, catalogue.currency)}; those done bear it."
    )


def safety_notes(catalogue: Catalogue, jobs: Sequence[CandidateJob]) -> tuple[str, ...]:
    """The safety parts that the jobs may turn up, and the cautions of all parts in reach."""
    reach = {name for job in jobs for name in (*job.renews, *in_sight(job, catalogue))}
    parts = [component for name, component in catalogue.components.items() if name in reach]
    safety = [component.name for component in parts if component.safety]
    must = (
        f"{', '.join(safety)}: found degraded, it is renewed whatever the price says; agree with "
        "the owner before the job what that will cost.",
    )
    return (*(must if safety else ()), *cautions_for(parts))


def typed_price(
    workshop: Workshop,
    job: CandidateJob,
    done: Mapping[str, pl.DataFrame],
    *,
    version: str | None = None,
) -> dict[str, Any]:
    """What is known of a job's price, for any vehicle or one version, ready to be reckoned with."""
    tax = 1 + money_of(workshop.catalogue).tax_rate
    try:
        told = priced(workshop, job, done, version=version)
    except EstimateError as error:
        return {
            **dict.fromkeys(PRICE_COLUMNS),
            "job": job.name,
            "verdict": "not known",
            "reason": str(error),
        }
    advice = told.advice
    at, now = (
        advice.table.filter(pl.col("price_net") == price).row(0, named=True)
        for price in (advice.price_net, job.present_price_net)
    )
    lower, upper = np.quantile(advice.costs.job, [0.05, 0.95])
    jobs_lower, jobs_upper = np.quantile(told.jobs_next_year, [0.05, 0.95], method="nearest")
    values = (
        job.name, advice.verdict, advice.price_net, advice.price_net * tax,
        float(advice.costs.job.mean()), float(lower), float(upper), at["job_loss_chance"],
        at["year_profit_net"], job.present_price_net, now["expected_margin_share"],
        now["job_loss_chance"], now["year_profit_net"], now["year_profit_lower_net"],
        now["year_profit_upper_net"], advice.past.height, float(np.mean(told.jobs_next_year)),
        int(jobs_lower), int(jobs_upper), _why(told, workshop.catalogue),
    )  # fmt: skip
    return dict(zip(PRICE_COLUMNS, values, strict=True))


PRICE_COLUMNS = (
    "job", "verdict", "floor_price_net", "floor_price_gross", "cost_mean_net", "cost_lower_net",
    "cost_upper_net", "job_loss_chance_at_floor", "year_profit_at_floor_net", "present_price_net",
    "margin_now_share", "job_loss_chance_now", "year_profit_now_net", "year_profit_now_lower_net",
    "year_profit_now_upper_net", "past_jobs", "jobs_next_year", "jobs_lower", "jobs_upper",
    "reason",
)  # fmt: skip


def _why(told: PricedJob, catalogue: Catalogue) -> str:
    """The verdict's reason, and whether today's price lies above the floor."""
    advice, present, reason = told.advice, told.job.present_price_net, reason_of(told)
    if advice.verdict in ("too few records", "quote each time"):
        return reason
    if advice.verdict == "offer with stated exclusions":
        return f"{reason}; leave out work found on {exclusions(told.job, catalogue)}"
    if present >= advice.price_net:
        return "today's price earns more than the aim and keeps the risks: keep it"
    return f"today's price lies below the floor, set by {advice.price.bound_by}"


def reason_of(told: PricedJob) -> str:
    """The verdict's reason as pages write it."""
    return told.advice.reason.replace("%", PER_CENT)


def exclusions(job: CandidateJob, catalogue: Catalogue) -> str:
    """The parts that the job may turn up, whose renewal an offer can leave to be charged."""
    return ", ".join(name for name in in_sight(job, catalogue) if name not in job.renews)


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
        money(row["floor_price_net"], currency),
        money(row["present_price_net"], currency),
        money(row["floor_price_gross"], currency),
        percent(row["margin_now_share"]),
        simulated_chance(row["job_loss_chance_now"], draws=N_PRICE_DRAWS),
        f"{money(row['cost_lower_net'], currency)} to {money(row['cost_upper_net'], currency)}",
        str(row["past_jobs"]),
        f"{row['jobs_next_year']:.0f} ({row['jobs_lower']} to {row['jobs_upper']})",
        f"{money(row['year_profit_now_net'], currency)} ({earned})",
        row["reason"],
    )
    return dict(zip(PEOPLE_COLUMNS, values, strict=True))


PEOPLE_COLUMNS = (
    "job", "verdict", "floor", "asked now", "floor with tax", "margin now", "chance of a loss now",
    "cost, 9 jobs in 10", "past jobs", "jobs next year", "profit next year as asked", "why",
)  # fmt: skip
