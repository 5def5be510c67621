"""What a job's cost is made of, and what it may turn up."""

from typing import Any

import numpy as np
import polars as pl

from wornby.curves.uncertainty import Estimate
from wornby.decisions import cost_makeup as of
from wornby.decisions.job_unknowns import mean_size
from wornby.decisions.parts_in_sight import found_work
from wornby.decisions.price_advice import job_found_chance
from wornby.decisions.price_question import (
    PricedJob,
    book_hours,
    companion_parts_of,
    follow_on_works,
)
from wornby.records.catalogue import Catalogue
from wornby.reports.amounts import estimate_text, money, percent
from wornby.reports.answer import ALL, Answer
from wornby.reports.price_answers import safety_notes
from wornby.reports.priced_jobs import candidate, candidates, done_by_the_workshop, priced
from wornby.reports.workshop import Workshop


def price_makeup_answer(workshop: Workshop, job: str | None = None) -> Answer:
    """What the job, or the first, costs in the mean by what it is for, and how sure each is."""
    catalogue, done = workshop.catalogue, done_by_the_workshop(workshop)
    told = priced(workshop, candidate(workshop, job), done)
    parts = of.mean_cost_parts(told.advice.planned, told.advice.costs.unknowns)
    ends = [(1 - workshop.confidence) / 2, (1 + workshop.confidence) / 2]
    how = _how(told, catalogue, confidence=workshop.confidence)
    rows = []
    for name, cost in {**parts, ALL: sum(parts.values(), np.zeros(1))}.items():
        lower, upper = np.quantile(cost, ends)
        values = (name, float(cost.mean()), float(lower), float(upper), how.get(name, ""))
        rows.append(
            dict(zip(("cost_of", "mean_net", "lower_net", "upper_net", "how"), values, strict=True))
        )
    return Answer(
        f"{told.job.name}: what it costs the workshop",
        pl.DataFrame([_people_makeup(row, catalogue.currency) for row in rows]),
        pl.DataFrame(rows),
        (
            "The mean of a job, before tax, and in brackets the range in which it lies with a "
            f"chance of {percent(workshop.confidence)}; one job scatters more widely.",
        ),
    )


def _people_makeup(row: dict[str, Any], currency: str) -> dict[str, str]:
    mean, lower, upper = (money(row[f"{end}_net"], currency) for end in ("mean", "lower", "upper"))
    sure = lower == upper
    return {
        "cost of": row["cost_of"],
        "a job, in the mean": mean if sure else f"{mean} ({lower} to {upper})",
        "how": row["how"],
    }


def _how(told: PricedJob, catalogue: Catalogue, *, confidence: float) -> dict[str, str]:
    """What each amount rests on, in words."""
    advice, unknowns, job = told.advice, told.advice.costs.unknowns, told.job
    planned, ends = advice.planned, [(1 - confidence) / 2, (1 + confidence) / 2]
    hours = of.mean_hours(planned, unknowns)
    lower, upper = np.quantile(hours, ends)
    mean = Estimate(float(hours.mean()), float(lower), float(upper), confidence, "labour_hours")
    chance = job_found_chance(planned, advice.past, confidence=confidence)
    found_size = mean_size(unknowns.found_sizes, planned.found_size_net)
    here, anywhere = advice.past["found_cost_net"].drop_nulls().len(), unknowns.found_sizes[0].size
    seen = "as found on other jobs" if anywhere else "as workshop.toml states"
    seen = "as found so far" if here else seen
    back = "as past ones cost" if unknowns.comeback_sizes[0].size else "the whole job again"
    companions = companion_parts_of(catalogue, job)
    with_them = f", with {', '.join(companions)}" if companions else ""
    jobs = "1 past job" if advice.past.height == 1 else f"{advice.past.height} past jobs"
    return {
        of.LABOUR: f"{estimate_text(mean)} hours from {jobs}, "
        f"{book_hours(catalogue, job):.1f} by the book",
        of.PARTS: f"{', '.join(job.renews)}, {job.grade}, at today's list{with_them}",
        of.FOLLOW_ON: ", ".join(follow_on_works(catalogue, job)) or "none",
        of.OTHER: "as past jobs took",
        of.FOUND: f"chance {_chance_text(chance)}, "
        f"{money(found_size, catalogue.currency)} each {seen}",
        of.COMEBACKS: f"chance {_chance_text(advice.comeback_chance)} within "
        f"{job.warranty_months} months, {back}",
        of.CALLED_OFF: f"{percent(planned.cancelled_share)} of bookings, "
        f"{money(planned.cancellation_cost_net, catalogue.currency)} each"
        if planned.cancelled_share
        else "none stated",
    }


HARDLY = 0.001


def _chance_text(chance: Estimate) -> str:
    """A chance with its interval; of what is never or hardly seen, the upper limit alone."""
    if chance.note and chance.upper is not None:
        n = chance.note.split(":")[0]
        return f"at most {percent(chance.upper)}, {n}"
    if chance.lower is not None and chance.upper is not None and chance.upper < HARDLY:
        return percent(chance.upper)
    return estimate_text(chance)


def found_work_answer(workshop: Workshop, job: str | None = None) -> Answer:
    """The parts that each job lets one see: how often they were found bad, and their own price."""
    done, catalogue = done_by_the_workshop(workshop), workshop.catalogue
    asked = candidates(workshop) if job is None else (candidate(workshop, job),)
    frames = [
        found_work(
            catalogue, one, done[one.name], confidence=workshop.confidence
        ).with_columns(job=pl.lit(one.name))
        for one in asked
    ]  # fmt: skip
    frame = pl.concat(frames).select("job", pl.exclude("job"))
    return Answer(
        "What a job may turn up, and what it costs then",
        pl.DataFrame(
            [_people_found(row, catalogue) for row in frame.to_dicts()],
            schema=dict.fromkeys(FOUND_COLUMNS, pl.String),
        ),
        frame,
        (
            "The chance is that the next job turns the part up failed or degraded, with the range "
            f"in which it lies with {percent(workshop.confidence)} (Jeffreys); of one never found "
            "only the upper limit counts. The price is what its owner pays while the job is open: "
            "own hours, part, companion parts and follow-on work.",
            *safety_notes(catalogue, asked),
        ),
    )


FOUND_COLUMNS = ("job", "may turn up", "found in past jobs", "chance", "price (with tax)", "note")


def _people_found(row: dict[str, Any], catalogue: Catalogue) -> dict[str, str]:
    currency, tax = catalogue.currency, 0.0 if catalogue.money is None else catalogue.money.tax_rate
    chance = f"{percent(row['chance'])} ({percent(row['chance_lower'])} to "
    price = row["price_net"]
    values = (
        row["job"],
        row["component"],
        f"{row['times_found']} of {row['past_jobs']}",
        f"{chance}{percent(row['chance_upper'])})"
        if row["times_found"]
        else f"at most {percent(row['chance_upper'])}",
        "not stated"
        if price is None
        else f"{money(price, currency)} ({money(price * (1 + tax), currency)})",
        "safety part: renewed if found degraded" if row["safety"] else "",
    )
    return dict(zip(FOUND_COLUMNS, values, strict=True))
