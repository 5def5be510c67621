"""From sightings to fitments: one physical part in one position of one vehicle."""

from dataclasses import dataclass

import polars as pl

from wornby.histories.distance import odometer_readings
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
    to end, and how. The ledger accounts for the renewals that the records tell of.
    """

    fitments: pl.DataFrame
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
    known = ended.join(_known_originals(placed), on="slot", how="left")
    facts = _renewed_elsewhere(known).join(slots, on="slot", how="left", maintain_order="left")
    return Histories(
        fitments=facts.with_columns(closed_on=pl.lit(records.catalogue.records_until)),
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
    far = pl.date(9999, 12, 31)
    renewed, failed, lost = (
        pl.col(f"{what}_on").fill_null(far) for what in ("renewed", "failed", "unplaced")
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
        lost_for=pl.when(for_cause).then("unplaced_reason"),
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


def _known_originals(placed: pl.DataFrame) -> pl.DataFrame:
    """When each slot was seen to hold its original part, first and last, or a renewed one."""
    original, renewed = (pl.col("origin") == origin for origin in ("original", "renewed"))
    found_renewed = pl.col("date").filter(renewed).min()
    still_original = original & (pl.col("date") < found_renewed.fill_null(pl.date(9999, 12, 31)))
    return placed.group_by("slot").agg(
        known_original_on=pl.col("date").filter(still_original).min(),
        last_original_on=pl.col("date").filter(still_original).max(),
        found_renewed_on=found_renewed,
    )


def _renewed_elsewhere(known: pl.DataFrame) -> pl.DataFrame:
    """An original that a later look calls renewed was last known in place when last seen so."""
    gone = (
        (pl.col("origin") == "original")
        & pl.col("found_renewed_on").is_not_null()
        & pl.col("last_original_on").is_not_null()
        & (pl.col("ended_on").is_null() | (pl.col("found_renewed_on") < pl.col("ended_on")))
    )
    return known.with_columns(
        ended_on=pl.when(gone).then("last_original_on").otherwise("ended_on"),
        ended_mi=pl.when(~gone).then("ended_mi"),
        ending=pl.when(gone).then(pl.lit("renewed elsewhere")).otherwise("ending"),
    )
