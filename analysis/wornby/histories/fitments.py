"""From sightings to fitments: one physical part in one position of one vehicle."""

from dataclasses import dataclass

import polars as pl

from wornby.histories.distance import odometer_readings
from wornby.histories.looks import (
    NEVER,
    found_renewed,
    known_originals,
    renewed_elsewhere,
    sound_again,
)
from wornby.ledger import Ledger
from wornby.records.catalogue import Catalogue
from wornby.records.reading import Records

SAME_WORK_DAYS = 7
"""Two renewals of one position within a week are one renewal told twice."""
ENDING = {
    "failure": "failure",
    "degraded finding": "degraded finding",
    "preventive renewal": "preventive renewal",
    "unknown": "renewal unexplained",
}
"""How a fitment ended, by the reason given for the renewal that ended it."""


@dataclass(frozen=True, eq=False, slots=True)
class Histories:
    """Every fitment of every vehicle, before any rule of observation is applied.

    `fitments` has one row a fitment: where it sat, when it was fitted and when it was known
    to end, and how; `found` the same of parts that a look found renewed elsewhere, fitted at
    some time from `fitted_since` to `fitted_on`. The ledger accounts for the renewals that the
    records tell of.
    """

    fitments: pl.DataFrame
    found: pl.DataFrame
    readings: pl.DataFrame
    ledger: Ledger


def histories(records: Records) -> Histories:
    """Who was fitted with what, from when to when, as far as the records tell."""
    slots = _slots(records)
    keys = ["vehicle", "component", "position"]
    placed = records.sightings.join(slots.select(*keys, "slot"), on=keys, how="inner")
    renewed = records.sightings.filter(pl.col("seen") == "renewed")
    unplaced = renewed.filter(pl.col("position").is_null())
    renewals, repeated = _renewals(placed)
    fitted = _fitted(slots, renewals)
    ended = _with_endings(
        fitted,
        placed.filter(pl.col("seen") == "failed"),
        unplaced.join(slots.select("vehicle", "component", "slot"), on=["vehicle", "component"]),
    )
    judged = sound_again(ended, placed.filter(pl.col("seen") == "sound"))
    known = judged.join(known_originals(placed), on="slot", how="left")
    facts = _with_visits(renewed_elsewhere(known), slots, records)
    return Histories(
        fitments=facts,
        found=_with_visits(found_renewed(known), slots, records),
        readings=odometer_readings(records.readings, records.vehicles),
        ledger=Ledger(
            "renewals of one position",
            n_read=renewed.height,
            n_accepted=renewals.height,
            set_aside={
                why: n
                for why, n in {
                    "position not said": unplaced.height,
                    "renewed twice within a week": repeated,
                    "no such position": renewed.height
                    - unplaced.height
                    - renewals.height
                    - repeated,
                }.items()
                if n
            },
        ),
    )


def _slots(records: Records) -> pl.DataFrame:
    """Every place of every vehicle that was ever seen, numbered."""
    seen = records.visits.group_by("vehicle").agg(
        first_visit=pl.col("date").min(), last_visit=pl.col("date").max()
    )
    vehicles = records.vehicles.join(seen, on="vehicle", how="inner").sort("vehicle")
    return vehicles.join(_places(records.catalogue), how="cross").with_row_index("slot")


def _places(catalogue: Catalogue) -> pl.DataFrame:
    rows = [
        (name, position)
        for name, component in catalogue.components.items()
        for position in component.positions or ("",)
    ]
    return pl.DataFrame(rows, schema=["component", "position"], orient="row")


def _renewals(placed: pl.DataFrame) -> tuple[pl.DataFrame, int]:
    """Renewals in order, and how many were the same work told twice."""
    renewed = placed.filter(pl.col("seen") == "renewed").sort("slot", "date")
    gap = (pl.col("date") - pl.col("date").shift(1).over("slot")).dt.total_days()
    once = renewed.filter(gap.is_null() | (gap > SAME_WORK_DAYS))
    return once, renewed.height - once.height


def _fitted(slots: pl.DataFrame, renewals: pl.DataFrame) -> pl.DataFrame:
    """The original fitment of each slot and each renewed one, with what renewed it."""
    originals = slots.select(
        "slot",
        fitted_on="first_registered",
        fitted_mi=pl.lit(0.0),
        origin=pl.lit("original"),
        grade=pl.lit("genuine"),
        reason=pl.lit(None, pl.String),
    )
    renewed = renewals.select(
        "slot",
        fitted_on="date",
        fitted_mi="odometer_mi",
        origin=pl.lit("renewed"),
        grade="grade",
        reason="reason",
    )
    ordered = pl.concat([originals, renewed]).sort("slot", "fitted_on", maintain_order=True)
    return ordered.with_columns(
        renewed_on=pl.col("fitted_on").shift(-1).over("slot"),
        renewed_mi=pl.col("fitted_mi").shift(-1).over("slot"),
        ending=pl.col("reason").shift(-1).over("slot").replace_strict(ENDING, default=None),
    ).drop("reason")


def _with_endings(
    fitted: pl.DataFrame, failures: pl.DataFrame, unplaced: pl.DataFrame
) -> pl.DataFrame:
    """Ended by the next renewal, a failure seen before it, or a renewal of unknown position.

    What was found failed on the day it was renewed had failed, whatever reason was written.
    """
    both = _next_in_slot(_next_in_slot(fitted, failures, "failed"), unplaced, "unplaced")
    renewed, failed, lost = (
        pl.col(f"{what}_on").fill_null(NEVER) for what in ("renewed", "failed", "unplaced")
    )
    by_failure = failed <= pl.min_horizontal(renewed, lost)
    by_loss = lost < renewed
    ended = both.with_columns(
        ended_on=pl.min_horizontal("renewed_on", "failed_on", "unplaced_on"),
        ended_mi=pl.when(by_failure).then("failed_mi").when(~by_loss).then("renewed_mi"),
        ending=pl.when(pl.col("failed_on").is_not_null() & by_failure)
        .then(pl.lit("failure"))
        .when(pl.col("unplaced_on").is_not_null() & by_loss)
        .then(pl.lit("lost from sight"))
        .otherwise(pl.col("ending")),
    )
    for_cause = by_loss & pl.col("unplaced_reason").is_in(["failure", "degraded finding"])
    return ended.select(
        "slot", "fitted_on", "fitted_mi", "origin", "grade", "ended_on", "ended_mi", "ending",
        "renewed_on", lost_for=pl.when(for_cause).then("unplaced_reason"),
    )  # fmt: skip


def _next_in_slot(fitted: pl.DataFrame, events: pl.DataFrame, what: str) -> pl.DataFrame:
    """The first event in the same slot after the day of fitting, its columns named after it."""
    dated = events.select(
        "slot",
        pl.col("date").alias(f"{what}_on"),
        pl.col("odometer_mi").alias(f"{what}_mi"),
        pl.col("reason").alias(f"{what}_reason"),
    )
    return fitted.sort("fitted_on").join_asof(
        dated.sort(f"{what}_on"),
        left_on="fitted_on",
        right_on=f"{what}_on",
        by="slot",
        strategy="forward",
        allow_exact_matches=False,
        check_sortedness=False,
    )


def _with_visits(fitments: pl.DataFrame, slots: pl.DataFrame, records: Records) -> pl.DataFrame:
    """Add whose place it was, the visit before the end, and whether a routine visit saw it."""
    placed = fitments.join(slots, on="slot", how="left", maintain_order="left").with_row_index(
        "row"
    )
    visits = records.visits.sort("date")
    ends = placed.select("row", "vehicle", "ended_on").drop_nulls().sort("ended_on")
    for name, days in (("visit", visits), ("routine", visits.filter("routine"))):
        ends = ends.join_asof(
            days.select("vehicle", pl.col("date").alias(f"{name}_before")),
            left_on="ended_on",
            right_on=f"{name}_before",
            by="vehicle",
            allow_exact_matches=False,
            check_sortedness=False,
        )
    on_the_day = visits.select("vehicle", ended_on="date", ended_in_routine="routine")
    ends = ends.join(on_the_day, on=["vehicle", "ended_on"], how="left")
    return (
        placed.join(ends.drop("vehicle", "ended_on"), on="row", how="left", maintain_order="left")
        .with_columns(
            closed_on=pl.lit(records.catalogue.records_until),
            ended_in_routine=pl.col("ended_in_routine").fill_null(False),
            routine_before=pl.coalesce("routine_before", "first_visit"),
        )
        .drop("row")
    )
