"""What a job turns up that nobody could see before: each part with its own chance and price."""

import polars as pl

from wornby.decisions.costs import renewal_cost
from wornby.decisions.jobs_done import in_sight
from wornby.decisions.price_advice import found_chance
from wornby.decisions.stated_costs import money_of, part_costs
from wornby.records.catalogue import CandidateJob, Catalogue


def found_work(
    catalogue: Catalogue, job: CandidateJob, past: pl.DataFrame, *, confidence: float
) -> pl.DataFrame:
    """One row for each part that the job lets one see: how often it was found, and its price.

    Columns: component, times_found, past_jobs, chance with lower and upper limit, price_net of
    renewing it while the job is open (None where workshop.toml does not state it), safety. The
    chance is that the next job turns it up; never seen, only its upper limit counts.
    """
    rows = []
    for name in in_sight(job, catalogue):
        if name in job.renews:
            continue
        found = past.filter(pl.col("found").list.contains(name)).height
        chance = found_chance(found, past.height - found, confidence=confidence)
        rows.append(
            {
                "component": name,
                "times_found": found,
                "past_jobs": past.height,
                "chance": chance.value,
                "chance_lower": chance.lower,
                "chance_upper": chance.upper,
                "price_net": price_while_open(catalogue, name, grade=job.grade),
                "safety": catalogue.component(name).safety,
            }
        )
    return pl.DataFrame(rows, schema=FOUND_WORK)


FOUND_WORK = {
    "component": pl.String,
    "times_found": pl.Int64,
    "past_jobs": pl.Int64,
    "chance": pl.Float64,
    "chance_lower": pl.Float64,
    "chance_upper": pl.Float64,
    "price_net": pl.Float64,
    "safety": pl.Boolean,
}


def price_while_open(catalogue: Catalogue, name: str, *, grade: str) -> float | None:
    """What the owner pays for the part once it can be reached; None where it is not stated."""
    component = catalogue.component(name)
    stated = (component.own_hours, component.failure_consequence_net)
    if None in stated or grade not in component.part_price_net:
        return None
    rate = money_of(catalogue).labour_price_per_hour
    return renewal_cost(part_costs(catalogue, name, grade=grade), labour_price_per_hour=rate)
