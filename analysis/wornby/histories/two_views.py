"""The population's count of failures and the histories', joined failure by failure."""

import polars as pl

from wornby.histories.counts import DAYS_PER_YEAR
from wornby.histories.fitments import Histories
from wornby.histories.observation import STARTS, UNKNOWN_AGES, ObservationRule
from wornby.histories.recurring import FOR_CAUSE
from wornby.histories.watching import LOST, Episodes
from wornby.records.reading import Records

FITMENT = ("vehicle", "component", "position", "fitted_on")


def reconciled(records: Records, made: Histories, watched: Episodes) -> pl.DataFrame:
    """What parts the failures that the records tell from those that episodes end in.

    One row a component: told - no_fitment + only_looked_at - of_unknown_age - not_at_risk -
    no_life_ended + other_ends = in_episodes. `told` counts renewals for cause, `no_fitment`
    those that end none (told twice, of no known place, or of a part lost from sight before),
    `only_looked_at` failures that a look saw and no renewal for cause ended that day,
    `of_unknown_age` ends of parts that the rule does not take for originals or that were renewed
    elsewhere, `not_at_risk` ends of fitments not watched before or seen sound again,
    `no_life_ended` those that end no life under the rule, `other_ends` renewals not for cause
    that do. `watched_years` are the episodes' years over their number of places.
    """
    place, day = ("vehicle", "component", "position"), ("vehicle", "component", "ended_on")
    causes = records.sightings.filter(
        (pl.col("seen") == "renewed") & pl.col("reason").is_in(FOR_CAUSE)
    ).select(*place, ended_on="date", weight=1.0)
    ends = _once(_with_episodes(_ends(made, watched.rule), watched)).with_row_index("end")
    by_place = ends.filter(~pl.col("lost")).join(causes, on=[*place, "ended_on"], how="semi")
    by_day = ends.filter("lost").join(causes, on=day, how="semi")
    renewed = pl.concat([by_place, by_day])
    looked = ends.join(renewed, on="end", how="anti")
    unknown = ends.filter(~pl.col("watched") & pl.col("never_known"))
    early = ends.filter(~pl.col("watched") & ~pl.col("never_known"))
    living = ends.filter(pl.col("watched")).with_columns(
        weight=pl.col("weight") - pl.col("failed_weight")
    )
    failed = watched.table.filter("failed")
    told = pl.DataFrame({"component": list(records.catalogue.components)})
    for name, frame in {
        "told": causes,
        "tied": renewed,
        "only_looked_at": looked,
        "of_unknown_age": unknown,
        "not_at_risk": early,
        "no_life_ended": living,
        "other_ends": failed.filter(~pl.col("ending").is_in(FOR_CAUSE)),
        "in_episodes": failed,
        "watched_years": _years(watched),
    }.items():
        sums = frame.group_by("component").agg(pl.col("weight").sum().alias(name))
        told = told.join(sums, on="component", how="left", maintain_order="left")
    whole = told.with_columns(pl.col(pl.Float64).fill_null(0.0))
    return whole.with_columns(no_fitment=pl.col("told") - pl.col("tied")).select(
        "component", "told", "no_fitment", "only_looked_at", "of_unknown_age", "not_at_risk",
        "no_life_ended", "other_ends", "in_episodes", "watched_years",
    )  # fmt: skip


def _ends(made: Histories, rule: ObservationRule) -> pl.DataFrame:
    """Fitments that ended for cause, those of an unsaid position in part."""
    places = pl.col("position").n_unique().over("component")
    lost = (pl.col("ending") == LOST) & pl.col("lost_for").is_not_null()
    found = made.found.with_columns(fitted_on=UNKNOWN_AGES[rule.unknown_ages])
    ends = pl.concat([made.fitments, found], how="diagonal").with_columns(
        weight=pl.when(lost).then(1 / places).otherwise(1.0), lost=lost.fill_null(False)
    )
    original = pl.col("origin") == "original"
    unknown = (original & STARTS[rule.starts].is_null()) | pl.col("fitted_on").is_null()
    return ends.filter(pl.col("ending").is_in(FOR_CAUSE) | pl.col("lost")).with_columns(
        never_known=unknown
    )


def _with_episodes(ends: pl.DataFrame, watched: Episodes) -> pl.DataFrame:
    """Each end with whether its fitment was watched, and how much of a failure it became."""
    fitted = pl.col("entered_on") - pl.duration(days=pl.col("entry_days"))
    seen = (
        watched.table.with_columns(fitted_on=fitted)
        .group_by(FITMENT)
        .agg(failed_weight=pl.col("weight").filter("failed").sum(), watched=pl.lit(True).first())
    )
    joined = ends.join(seen, on=FITMENT, how="left", nulls_equal=True)
    return joined.with_columns(pl.col("watched").fill_null(False))


def _once(ends: pl.DataFrame) -> pl.DataFrame:
    """One end of a place on a day, where it is told of the original and of what replaced it."""
    ordered = ends.sort("watched", descending=True, maintain_order=True)
    return ordered.unique(["slot", "ended_on"], keep="first", maintain_order=True)


def _years(watched: Episodes) -> pl.DataFrame:
    """Years at risk of each episode, over the number of places of its component."""
    table = watched.table
    places = pl.col("position").n_unique().over("component")
    days = pl.col("exit_days") - pl.col("entry_days")
    return table.select("component", weight=pl.col("weight") * days / DAYS_PER_YEAR / places)
