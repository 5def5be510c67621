"""What one more recorded job, or ten, would be worth to a fixed price."""

from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl

from wornby.decisions.more_records import ValueOfRecords, value_of_records
from wornby.decisions.price_question import PricedJob
from wornby.errors import EstimateError
from wornby.records.catalogue import CandidateJob
from wornby.reports.amounts import money, percent
from wornby.reports.answer import Answer
from wornby.reports.priced_jobs import candidate, candidates, done_by_the_workshop, priced
from wornby.reports.sentences import Sentences
from wornby.reports.workshop import Workshop

RECORDS = (1, 10)
N_DRAWS = 2000
N_SETS = 200
NOW = {True: "asking today's price", False: "quoting each time"}
"""The decision, by whether it keeps the price."""


def record_value_answer(workshop: Workshop, job: str | None = None) -> Answer:
    """What one and ten more records of each job would change, and earn in a year."""
    done, currency = done_by_the_workshop(workshop), workshop.catalogue.currency
    asked = candidates(workshop) if job is None else (candidate(workshop, job),)
    rows = [row for one in asked for row in _rows(workshop, one, done)]
    return Answer(
        "What more records would be worth",
        pl.DataFrame([_people(row, currency) for row in rows]),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            *_in_words(rows, currency),
            "Records not yet made are drawn from what is known now, learnt from, and the decision "
            "taken anew: to ask today's price of every job, or to quote each time and earn the "
            "wanted margin on what each costs. A value of nothing means that no such records "
            "would change it; knowing all is what certainty of the mean cost would earn.",
            f"The floor would lie in the range given with a chance of "
            f"{percent(workshop.confidence)}. What found work and comebacks cost, once there, is "
            "taken as known.",
        ),
    )


def record_value_findings(workshop: Workshop) -> Sentences:
    """The same of every job in a sentence each, those that nothing would change in one."""
    done, currency = done_by_the_workshop(workshop), workshop.catalogue.currency
    rows = [row for one in candidates(workshop) for row in _rows(workshop, one, done)]
    return Sentences(tuple(_in_words(rows, currency)))


def _rows(
    workshop: Workshop, job: CandidateJob, done: Mapping[str, pl.DataFrame]
) -> list[dict[str, Any]]:
    try:
        told = priced(workshop, job, done, n_draws=N_DRAWS)
    except EstimateError as error:
        return [{"job": job.name, "n_records": n, "why": str(error)} for n in RECORDS]
    floor = priced(workshop, job, done).advice.price.price_net
    return [_row(told, _value(workshop, told, n), floor) for n in RECORDS]


def _value(workshop: Workshop, told: PricedJob, n_records: int) -> ValueOfRecords:
    return value_of_records(
        told.advice.planned,
        told.advice.costs,
        n_records=n_records,
        asked_net=told.job.present_price_net,
        aim=told.advice.aim,
        n_sets=N_SETS,
        confidence=workshop.confidence,
        rng=workshop.rng(f"{told.job.name} {n_records} more records"),
    )


def _row(told: PricedJob, value: ValueOfRecords, floor_net: float) -> dict[str, Any]:
    """The range moved to the floor of the other answers, from the one of these fewer draws."""
    moved = floor_net - value.floor_now_net
    return {
        "job": told.job.name,
        "past_jobs": told.advice.past.height,
        "n_records": value.n_records,
        "floor_now_net": floor_net,
        "floor_lower_net": value.floor_lower_net + moved,
        "floor_upper_net": value.floor_upper_net + moved,
        "doubt_now_net": value.doubt_now_net,
        "doubt_then_net": value.doubt_then_net,
        "value_net_per_year": value.value_net_per_year,
        "perfect_net_per_year": value.perfect_net_per_year,
        "changes_chance": value.changes_chance,
        "keeps_price": value.keeps_price,
    }


def _people(row: dict[str, Any], currency: str) -> dict[str, str]:
    if "why" in row:
        told = dict.fromkeys(COLUMNS, "")
        return {**told, "job": row["job"], "more records": str(row["n_records"])}
    values = (
        row["job"],
        str(row["n_records"]),
        f"{money(row['floor_now_net'], currency)} ({money(row['floor_lower_net'], currency)} to "
        f"{money(row['floor_upper_net'], currency)})",
        f"± {money(row['doubt_now_net'], currency)}, then "
        f"± {money(row['doubt_then_net'], currency)}",
        money(row["value_net_per_year"], currency),
        money(row["perfect_net_per_year"], currency),
        str(row["past_jobs"]),
    )
    return dict(zip(COLUMNS, values, strict=True))


COLUMNS = (
    "job", "more records", "floor now (then)", "mean cost known to within", "worth a year",
    "knowing all", "past jobs",
)  # fmt: skip


def _in_words(rows: Sequence[Mapping[str, Any]], currency: str) -> list[str]:
    """What the records would change; where they change nothing, said once for all such jobs."""
    moved = {row["job"] for row in rows if "why" in row or row["changes_chance"]}
    told = []
    for keeps, now in NOW.items():
        kept = [r for r in rows if r["job"] not in moved and r["keeps_price"] == keeps]
        jobs = [row["job"] for row in kept]
        if jobs:
            told.append(
                f"Neither {' nor '.join(map(_records, RECORDS))} would change the decision on "
                f"{'; '.join(dict.fromkeys(jobs))}: {now} stays the better one."
            )
    changed = [row for row in rows if row["job"] in moved]
    told += [f"{r['job']}: {r.get('why') or record_sentence(r, currency)}" for r in changed]
    return list(dict.fromkeys(told))


def _records(n: int) -> str:
    return "one more record" if n == 1 else f"{n} more"


def record_sentence(row: Mapping[str, Any], currency: str) -> str:
    """What the records would change, in one sentence."""
    n = row["n_records"]
    records = "One more record" if n == 1 else f"{n} more records"
    now = NOW[row["keeps_price"]]
    if not row["changes_chance"]:
        return f"{records} would not change the decision: {now} stays the better one."
    if row["value_net_per_year"] < 0.5:
        least = money(1, currency)
        return f"{records} would be worth less than {least} a year: {now} is the better choice now."
    return (
        f"{records} would be worth about {money(row['value_net_per_year'], currency)} a year: "
        f"{now} is the better choice now, and with a chance of {percent(row['changes_chance'])} "
        "they would show the other to be."
    )
