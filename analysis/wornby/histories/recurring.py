"""Failures that come back: every renewal for cause of one component, vehicle by vehicle."""

import polars as pl

from wornby.histories.counts import DAYS_PER_YEAR
from wornby.histories.fitments import Histories
from wornby.records.reading import Records

FOR_CAUSE = ("failure", "degraded finding")


def recurrences(records: Records, component: str) -> pl.DataFrame:
    """Failures of a component by the vehicle's age, whichever of its parts it was.

    Columns vehicle, entry, age (years) and failed: one row a failure, and for each vehicle
    one with failed = false at its last visit. A vehicle is watched over (entry, end] from its
    first visit, or from new where that was the day of first registration or the rule says so.
    """
    records.catalogue.component(component)
    seen = records.visits.group_by("vehicle").agg(
        first=pl.col("date").min(), last=pl.col("date").max()
    )
    from_new = records.catalogue.observation_rule == "from new"
    vehicles = records.vehicles.join(seen, on="vehicle").with_columns(
        entry=pl.lit(0.0) if from_new else _years("first")
    )
    ends = vehicles.select("vehicle", "entry", age=_years("last"), failed=pl.lit(False))
    causes = records.sightings.filter(
        (pl.col("component") == component)
        & (pl.col("seen") == "renewed")
        & pl.col("reason").is_in(FOR_CAUSE)
    )
    failures = causes.join(vehicles, on="vehicle").select(
        "vehicle", "entry", age=_years("date"), failed=pl.lit(True)
    )
    inside = failures.filter(pl.col("age") > pl.col("entry"))
    return pl.concat([inside, ends]).sort(
        "vehicle", "age", "failed", descending=[False, False, True]
    )


def _years(day: str) -> pl.Expr:
    return (pl.col(day) - pl.col("first_registered")).dt.total_days() / DAYS_PER_YEAR


def failures_by_year(records: Records, made: Histories, *, years: int) -> dict[str, list[int]]:
    """Failures and degraded findings of each component in each of the last years, oldest first.

    A year ends on the day and month on which the records close.
    """
    close = records.catalogue.records_until
    ended = made.fitments.filter(pl.col("ending").is_in(FOR_CAUSE)).with_columns(
        back=((pl.lit(close) - pl.col("ended_on")).dt.total_days() / DAYS_PER_YEAR).floor()
    )
    counts = (
        ended.filter(pl.col("back").is_between(0, years - 1)).group_by("component", "back").len()
    )
    told = {name: [0] * years for name in records.catalogue.components}
    for name, back, n in counts.iter_rows():
        told[name][years - 1 - int(back)] = n
    return told


def failures_in_past_months(records: Records, made: Histories, *, months: int) -> list[int]:
    """Failures and degraded findings of all components in each of the last months, oldest first.

    A month is a twelfth of a year; the last one ends on the day on which the records close.
    """
    close = records.catalogue.records_until
    back = (
        made.fitments.filter(pl.col("ending").is_in(FOR_CAUSE))
        .select(
            back=((pl.lit(close) - pl.col("ended_on")).dt.total_days() * 12 / DAYS_PER_YEAR).floor()
        )
        .filter(pl.col("back").is_between(0, months - 1))
    )
    counts = dict(back.group_by("back").len().iter_rows())
    return [counts.get(float(n), 0) for n in reversed(range(months))]
