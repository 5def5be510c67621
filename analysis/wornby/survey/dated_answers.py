"""What answers tell of when parts were renewed: each distinct text read once, a row a renewal."""

from dataclasses import astuple

import polars as pl

from wornby.survey.told_spans import Span
from wornby.survey.told_when import When, phrase_of_distance, read_when

SPAN = {
    "kind": pl.String, "low": pl.Float64, "high": pl.Float64, "precision": pl.String,
    "about": pl.Boolean, "named": pl.Int64,
}  # fmt: skip
RENEWAL = {**SPAN, **{f"distance_{name}": dtype for name, dtype in SPAN.items()}}
"""Columns of one renewal as told: its time, and its distance."""
NO_SPAN = (None,) * len(SPAN)
KEY = ("told", "order", "unit")
BETWEEN_CELLS, AGAIN = "; ", " ;; "


def with_told(stated: pl.DataFrame) -> pl.DataFrame:
    """Add `told`: all that an answer's cells tell of when; `distance_unread`: what one does not.

    A distance asked by itself belongs to the first renewal, beside the time told of that.
    """
    cells = stated.select("distance", "unit").drop_nulls().unique()
    read = [(cell, unit, phrase_of_distance(cell, unit=unit)) for cell, unit in cells.iter_rows()]
    schema = {"distance": pl.String, "unit": pl.String, "at": pl.String}
    known = pl.DataFrame(read, schema=schema, orient="row")
    joined = stated.join(known, on=["distance", "unit"], how="left", maintain_order="left")
    joined = joined.with_columns(
        distance_unread=pl.col("distance").is_not_null() & pl.col("at").is_null(),
        at=pl.when(pl.col("at") != "").then("at"),
    )
    dated = pl.concat_str("when", "at", separator=" at ", ignore_nulls=True)
    dated = pl.when(dated != "").then(dated)
    first = pl.concat_str("rest", dated, separator=BETWEEN_CELLS, ignore_nulls=True)
    whole = pl.concat_str(first, "again", separator=AGAIN, ignore_nulls=True)
    trimmed = whole.str.strip_chars(AGAIN)
    return joined.with_columns(told=pl.when(trimmed != "").then(trimmed)).drop("at")


def told_renewals(stated: pl.DataFrame) -> pl.DataFrame:
    """Each distinct text on when, a row for each renewal dated, and of how many it tells."""
    rows = []
    for told, order, unit in stated.select(KEY).drop_nulls("told").unique().iter_rows():
        asked = [_renewals_told(part, order, unit) for part in told.split(AGAIN)]
        whens = [when for occasion in asked for when in occasion or ()]
        n = len(whens) + (len(asked) > 1 and not asked[0] and bool(asked[1]))
        spans = [_flat(when) for when in whens] or [NO_SPAN * 2]
        rows += [(told, order, unit, n, asked == [None] * len(asked), *span) for span in spans]
    schema = {**dict.fromkeys(KEY, pl.String), "n_whens": pl.Int64, "unread": pl.Boolean, **RENEWAL}
    return pl.DataFrame(rows, schema=schema, orient="row")


def _renewals_told(told: str, order: str, unit: str) -> tuple[When, ...] | None:
    """The renewals in all cells together; what one cell does not make clear another may."""
    if (whole := read_when(told, order=order, unit=unit)) is not None:
        return whole
    cells = [read_when(cell, order=order, unit=unit) for cell in told.split(BETWEEN_CELLS)]
    return tuple(when for cell in cells for when in cell or ()) or None


def _flat(when: When) -> tuple[object, ...]:
    return (*_cells(when.time), *_cells(when.distance))


def _cells(span: Span | None) -> tuple[object, ...]:
    return NO_SPAN if span is None else astuple(span)


def with_times(stated: pl.DataFrame, whens: pl.DataFrame) -> pl.DataFrame:
    """Each answer with how many renewals it tells of, and how often its part was renewed.

    Where the form asks for a second time and none is given, the part was renewed once.
    """
    summed = whens.select(*KEY, "n_whens", "unread").unique()
    rows = stated.join(summed, on=KEY, how="left", maintain_order="left").with_columns(
        pl.col("n_whens").fill_null(0), pl.col("unread").fill_null(False)
    )
    counted = pl.when("asked_again" & (pl.col("n_whens") > 0)).then("n_whens")
    times = pl.max_horizontal(
        pl.coalesce("times", counted), pl.when(pl.col("times").is_not_null()).then("n_whens")
    )
    return rows.with_columns(times=times)
