"""What looks tell of fitments: which were original, renewed elsewhere, or sound after all."""

import polars as pl

NEVER = pl.date(9999, 12, 31)
FOUND = (pl.col("origin") == "original") & (
    pl.col("found_renewed_on") < pl.col("ended_on").fill_null(NEVER)
)
"""Where a look found renewed what no line had renewed yet."""


def known_originals(placed: pl.DataFrame) -> pl.DataFrame:
    """When each slot was seen to hold its original part, first and last, or a renewed one."""
    original, renewed = (pl.col("origin") == origin for origin in ("original", "renewed"))
    found_renewed = pl.col("date").filter(renewed).min()
    still_original = original & (pl.col("date") < found_renewed.fill_null(NEVER))
    return placed.group_by("slot").agg(
        known_original_on=pl.col("date").filter(still_original).min(),
        last_original_on=pl.col("date").filter(still_original).max(),
        found_renewed_on=found_renewed,
    )


def sound_again(ended: pl.DataFrame, sound: pl.DataFrame) -> pl.DataFrame:
    """The day on which a part that had failed was seen sound, though nobody had renewed it."""
    asked = ended.filter(pl.col("ending") == "failure").select("slot", "ended_on", "renewed_on")
    looks = sound.filter(pl.col("origin") != "renewed").select("slot", sound_again_on="date")
    after = asked.sort("ended_on").join_asof(
        looks.sort("sound_again_on"),
        left_on="ended_on",
        right_on="sound_again_on",
        by="slot",
        strategy="forward",
        allow_exact_matches=False,
        check_sortedness=False,
    )
    again = after.filter(pl.col("sound_again_on") < pl.col("renewed_on").fill_null(NEVER))
    days = again.select("slot", "ended_on", "sound_again_on")
    return ended.join(days, on=["slot", "ended_on"], how="left", maintain_order="left")


def renewed_elsewhere(known: pl.DataFrame) -> pl.DataFrame:
    """An original that a later look calls renewed was last known in place when last seen so."""
    gone = FOUND & pl.col("last_original_on").is_not_null()
    return known.with_columns(
        ended_on=pl.when(gone).then("last_original_on").otherwise("ended_on"),
        ended_mi=pl.when(~gone).then("ended_mi"),
        ending=pl.when(gone).then(pl.lit("renewed elsewhere")).otherwise("ending"),
    )


def found_renewed(known: pl.DataFrame) -> pl.DataFrame:
    """The part found in the place of an original: what ended the one in truth ended the other."""
    return known.filter(FOUND).with_columns(
        origin=pl.lit("renewed"),
        grade=pl.lit("unknown"),
        fitted_since=pl.coalesce("last_original_on", "fitted_on"),
        fitted_on=pl.col("found_renewed_on"),
        fitted_mi=pl.lit(None, pl.Float64),
    )
