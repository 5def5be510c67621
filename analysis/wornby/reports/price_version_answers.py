"""The price menu by version of the vehicle, with tax and without."""

from dataclasses import replace
from typing import Any

import polars as pl

from wornby.decisions.price_question import price_rules_of
from wornby.decisions.stated_costs import money_of
from wornby.errors import EstimateError
from wornby.records.catalogue import Catalogue
from wornby.reports.amounts import money, percent, simulated_chance
from wornby.reports.answer import Answer
from wornby.reports.price_answers import (
    floor_sentence,
    safety_notes,
    typed_price,
    without_one_reason,
)
from wornby.reports.priced_jobs import N_PRICE_DRAWS, candidates, done_by_the_workshop
from wornby.reports.sentences import Sentences
from wornby.reports.workshop import Workshop

APART = 0.05
"""A version whose floor lies no farther from the job's own needs no price of its own."""


def price_version_answer(workshop: Workshop) -> Answer:
    """What each job must cost on each version of the vehicle, and what today's price earns there.

    A past job on another version counts as `other_version_weight` jobs, so that a version with
    few jobs of its own has a wide answer, not none.
    """
    catalogue, done = workshop.catalogue, done_by_the_workshop(workshop)
    versions = workshop.records.vehicles["version"].drop_nulls().unique().sort().to_list()
    if not versions:
        raise EstimateError("no vehicle has a version; layout.toml names its column in vehicles")
    rows = [
        _row(workshop, typed_price(workshop, job, done, version=version), version, past=ours.height)
        for job in candidates(workshop)
        for version in versions
        for ours in [done[job.name].filter(pl.col("version") == version)]
    ]
    unknown = sum(past["version"].null_count() for past in done.values())
    people, why = without_one_reason(pl.DataFrame([_people(row, catalogue) for row in rows]))
    return Answer(
        "Jobs at a fixed price, by version",
        people,
        pl.DataFrame(rows, infer_schema_length=None),
        (
            "A past job on another version counts as "
            f"{price_rules_of(catalogue).other_version_weight:g} of one on this; next year's jobs "
            "are those of the version alone.",
            *([_unknown_sentence(unknown)] if unknown else []),
            *why,
            floor_sentence(catalogue),
            *safety_notes(catalogue, candidates(workshop)),
        ),
    )


def versions_apart(workshop: Workshop, prices: Answer) -> Answer | Sentences:
    """The versions whose floor or verdict differs from the job's own, or that none does.

    `prices` is the answer of `price_answer`.
    """
    told = price_version_answer(workshop)
    of_job = prices.frame.select("job", of_job="verdict", floor_of_job="floor_price_net")
    beside = told.frame.join(of_job, on="job", how="left", maintain_order="left")
    farther = (pl.col("floor_price_net") / pl.col("floor_of_job") - 1).abs() > APART
    apart = beside.select((pl.col("verdict") != pl.col("of_job")) | farther.fill_null(False))
    keep = apart.to_series()
    if not keep.any():
        return Sentences(
            (
                f"On no version does a job's floor lie more than {percent(APART)} from that of "
                "all versions together, or its verdict differ; `wornby price FOLDER --by version` "
                "has them all.",
            )
        )
    return replace(told, people=told.people.filter(keep), frame=told.frame.filter(keep))


def _row(workshop: Workshop, row: dict[str, Any], version: str, *, past: int) -> dict[str, Any]:
    tax = 1 + money_of(workshop.catalogue).tax_rate
    asked = row["present_price_net"]
    return {
        "job": row["job"],
        "version": version,
        **{name: value for name, value in row.items() if name != "job"},
        "present_price_gross": None if asked is None else asked * tax,
        "past_jobs_of_version": past,
    }


def _unknown_sentence(n: int) -> str:
    jobs = "1 past job is" if n == 1 else f"{n} past jobs are"
    return f"{jobs} on a vehicle of no known version and counted as another version's."


def _people(row: dict[str, Any], catalogue: Catalogue) -> dict[str, str]:
    currency = catalogue.currency
    if row["verdict"] == "not known":
        told = dict.fromkeys(COLUMNS, "")
        return {**told, **{n: row[n] for n in ("job", "version", "verdict")}, "why": row["reason"]}
    values = (
        row["job"],
        row["version"],
        row["verdict"],
        money(row["floor_price_net"], currency),
        money(row["floor_price_gross"], currency),
        money(row["present_price_net"], currency),
        money(row["present_price_gross"], currency),
        percent(row["margin_now_share"]),
        simulated_chance(row["job_loss_chance_now"], draws=N_PRICE_DRAWS),
        f"{money(row['cost_lower_net'], currency)} to {money(row['cost_upper_net'], currency)}",
        f"{row['past_jobs_of_version']} ({row['past_jobs'] - row['past_jobs_of_version']})",
        f"{row['jobs_next_year']:.0f} ({row['jobs_lower']} to {row['jobs_upper']})",
        row["reason"],
    )
    return dict(zip(COLUMNS, values, strict=True))


COLUMNS = (
    "job", "version", "verdict", "floor", "with tax", "asked now", "asked, with tax", "margin now",
    "chance of a loss now", "cost, 9 jobs in 10", "past jobs (of other versions)",
    "jobs next year", "why",
)  # fmt: skip
