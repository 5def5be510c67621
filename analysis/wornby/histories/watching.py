"""From fitments to episodes: what was seen of each, under one observation rule."""

from dataclasses import dataclass

import polars as pl

from wornby.histories.distance import odometer_on
from wornby.histories.fitments import Histories
from wornby.histories.observation import (
    ENDS,
    FAILED_SINCE,
    LIFE_ENDS,
    STARTS,
    UNKNOWN_AGES,
    WORKED_ON,
    ObservationRule,
)
from wornby.ledger import Ledger, ledger_from
from wornby.tables import EPISODES

LOST = "lost from sight"
STILL_WORKING = ("in service", LOST, "renewed elsewhere")
SET_ASIDE = {
    "renewed elsewhere, of unknown age": pl.col("fitted_on").is_null(),
    "found sound after it had failed": pl.col("sound_again_on").is_not_null(),
    "original, but not known to be": pl.col("entered_on").is_null(),
    "ended before it was first seen": pl.col("exited_on") < pl.col("entered_on"),
    "ended when it was first seen": (
        (pl.col("exited_on") == pl.col("entered_on")) & (pl.col("ending") != "in service")
    ),
    "not seen again": pl.col("exited_on") == pl.col("entered_on"),
}
"""Fitments that no watch can speak of: no time at risk, over (entry, exit]."""


@dataclass(frozen=True, eq=False, slots=True)
class Episodes:
    """Episodes of all components, the rule they were made by and the account of fitments."""

    table: pl.DataFrame
    rule: ObservationRule
    ledger: Ledger


def episodes(histories: Histories, rule: ObservationRule) -> Episodes:
    """Each fitment from entry to exit, on age and on distance, under the rule.

    At risk over (entry, exit]: a part whose failure brought the vehicle in at its first visit
    has no time at risk and is set aside, as is an original that nobody noted as one (unless
    the rule takes it for one). A part whose failure is known within bounds worked at
    `sound_days` and had failed by `exit_days`. Distances are interpolated between readings, and
    carried on a while after the last, see `distance.odometer_on`; null beyond.
    """
    found = histories.found.with_columns(
        found_on="fitted_on", fitted_on=UNKNOWN_AGES[rule.unknown_ages]
    )
    fitments = pl.concat([histories.fitments, found], how="diagonal")
    watched = _watched(fitments, rule)
    why = pl.coalesce(
        *(pl.when(holds).then(pl.lit(reason)) for reason, holds in SET_ASIDE.items()),
        pl.lit(""),
    )
    judged = watched.with_columns(
        reason=why, fate=pl.when(why == "").then(pl.lit("accepted")).otherwise(pl.lit("set aside"))
    )
    places = pl.col("position").n_unique().over("component")
    kept = judged.with_columns(places=places).filter(pl.col("fate") == "accepted")
    seen = _on_both_scales(kept, histories.readings)
    return Episodes(
        table=EPISODES.shape(_shared_out(seen, rule)),
        rule=rule,
        ledger=ledger_from("fitments", judged),
    )


def _watched(fitments: pl.DataFrame, rule: ObservationRule) -> pl.DataFrame:
    """Add entered_on, exited_on and the ending that was seen by then."""
    original = pl.col("origin") == "original"
    end = ENDS[rule.ends]
    ended = (pl.col("ended_on") <= end) & ~pl.col("ending").is_in(WORKED_ON[rule.worked_on])
    watched = fitments.with_columns(
        entered_on=pl.when(original)
        .then(STARTS[rule.starts])
        .otherwise(pl.coalesce("found_on", "fitted_on")),
        exited_on=pl.when(ended).then(pl.col("ended_on")).otherwise(end),
        ending=pl.when(ended).then(pl.col("ending")).otherwise(pl.lit("in service")),
        exited_mi=pl.when(ended).then(pl.col("ended_mi")),
    )
    failed = pl.col("ending").is_in(LIFE_ENDS[rule.life_ends])
    sound = pl.when(failed).then(FAILED_SINCE[rule.failed_since])
    return watched.with_columns(
        failed=failed,
        sound_on=pl.max_horizontal(pl.coalesce(sound, "exited_on"), "entered_on"),
    )


def _on_both_scales(kept: pl.DataFrame, readings: pl.DataFrame) -> pl.DataFrame:
    """Ages and distances on each fitment at entry and exit.

    A part still in service is watched on distance as far as the readings go, at least; leaving
    it out for want of a last reading would keep the failures only.
    """

    def miles(day: str) -> pl.DataFrame:
        return odometer_on(kept.select("vehicle", date=day), readings)

    days = ("fitted_on", "entered_on", "sound_on", "exited_on")
    fitted, entered, sound, exited = (miles(day) for day in days)
    working = pl.col("ending").is_in(STILL_WORKING)
    distances = kept.with_columns(
        fitted_at=pl.coalesce("fitted_mi", fitted["odometer_mi"]),
        entered_at=entered["odometer_mi"],
        exited_at=pl.when(working)
        .then(exited["at_least_mi"])
        .otherwise(pl.coalesce("exited_mi", exited["odometer_mi"])),
        sound_at=sound["odometer_mi"],
        distance_carried=pl.col("exited_mi").is_null() & exited["carried"],
    )
    entry, sound_mi, exit_mi = (
        pl.col(c) - pl.col("fitted_at") for c in ("entered_at", "sound_at", "exited_at")
    )
    from_new = (pl.col("entered_on") == pl.col("fitted_on")) & pl.col("fitted_at").is_not_null()
    exact = pl.col("sound_on") == pl.col("exited_on")
    return distances.with_columns(
        entry_days=(pl.col("entered_on") - pl.col("fitted_on")).dt.total_days(),
        sound_days=(pl.col("sound_on") - pl.col("fitted_on")).dt.total_days(),
        exit_days=(pl.col("exited_on") - pl.col("fitted_on")).dt.total_days(),
        entry_mi=pl.when(from_new).then(0.0).otherwise(entry),
        sound_mi=pl.when(exact).then(exit_mi).otherwise(pl.min_horizontal(sound_mi, exit_mi)),
        exit_mi=exit_mi,
        weight=1.0,
    )


def _shared_out(episodes: pl.DataFrame, rule: ObservationRule) -> pl.DataFrame:
    """Where one of several positions failed and no line says which, each failed in part.

    Of k positions each counts 1/k as ended for that reason and the rest as lost from sight, so
    that one failure is counted, no more and no less.
    """
    share = 1 / pl.col("places")
    lost = episodes.filter(pl.col("lost_for").is_not_null() & (pl.col("ending") == LOST))
    in_part = lost.with_columns(
        ending=pl.col("lost_for"),
        failed=pl.col("lost_for").is_in(LIFE_ENDS[rule.life_ends]),
        weight=share,
    )
    rest = pl.when(pl.col("lost_for").is_not_null() & (pl.col("ending") == LOST))
    return pl.concat(
        [episodes.with_columns(weight=rest.then(1 - share).otherwise(1.0)), in_part]
    ).filter(pl.col("weight") > 0)
