"""Survey and population files typed: what was written beside what it was read as."""

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

import polars as pl

from wornby.records.cells import in_our_words, one_spelling
from wornby.records.layout import FileLayout
from wornby.records.loading import load_text
from wornby.records.values import read_miles, read_number
from wornby.survey.told_numbers import read_odometer, read_year
from wornby.survey.told_states import read_share
from wornby.survey.told_when import is_unknown
from wornby.tables import SURVEY, Table

PLAIN_NUMBER = r"\d+(\.\d{1,2})?"
YEARS = ("model_year", "calendar_year")


def typed_table(folder: Path, layouts: Sequence[FileLayout], table: Table) -> pl.DataFrame:
    """All files of one table with its columns typed, and beside each what was written.

    Beside these known_as, by which one respondent is told from another, may_show, false where
    the form asks and a respondent does not say yes, and order, the layout's of dates. No rows
    where the layout names no such file.
    """
    of_table = [layout for layout in layouts if layout.table == table.name]
    parts = [_typed_file(load_text(folder, layout), layout, table) for layout in of_table]
    return pl.concat(parts) if parts else _typed_file(_nothing(table), _no_layout(table), table)


def asks_to_share(layouts: Sequence[FileLayout]) -> bool:
    """Whether a survey's form asks if the answer may be shown by itself."""
    return any(
        "share" in (*layout.columns, *layout.constants)
        for layout in layouts
        if layout.table == SURVEY.name
    )


def with_single_counts(vehicles: pl.DataFrame) -> pl.DataFrame:
    """Say of each row whether it is repeated, or another gives its cell another number."""
    cell = ("model_year", "version", "calendar_year")
    first_of = vehicles.select(*cell, "on_the_road").hash_rows().is_first_distinct()
    marked = vehicles.with_columns(repeated=~first_of)
    first = marked.filter(~pl.col("repeated"))
    twice = first.filter(first.select(cell).is_duplicated()).select(cell).unique()
    return marked.join(
        twice.with_columns(ambiguous=pl.lit(True)), on=cell, how="left", maintain_order="left"
    ).with_columns(pl.col("ambiguous").fill_null(False))


def _nothing(table: Table) -> pl.DataFrame:
    text = dict.fromkeys(("file", "out_of_place", *table.columns), pl.String)
    return pl.DataFrame(schema={**text, "row": pl.Int64})


def _no_layout(table: Table) -> FileLayout:
    return FileLayout(table=table.name, path="", columns={})


def _typed_file(text: pl.DataFrame, layout: FileLayout, table: Table) -> pl.DataFrame:
    source = {name: "odometer" if name == "odometer_mi" else name for name in table.columns}
    written = text.with_columns(
        (pl.col(ours) if ours in text.columns else pl.lit(None, pl.String)).alias(f"{name}_written")
        for name, ours in source.items()
    ).with_columns(_not_unknown("odometer_mi_written") if table is SURVEY else [])
    read = {
        name: _read(name, layout, written, is_text=column.dtype == pl.String)
        for name, column in table.columns.items()
    }
    asked = "share" in text.columns
    may_show = (pl.col("share") == "yes").fill_null(False) if asked else pl.lit(True)
    typed = written.select(
        "file",
        "row",
        "out_of_place",
        pl.col("^.*_written$"),
        order=pl.lit(layout.dates),
        known_as=known_as("respondent_written") if table is SURVEY else pl.lit(None, pl.String),
        **read,
    )
    return typed.with_columns(may_show=may_show if table is SURVEY else pl.lit(True))


def _not_unknown(column: str) -> pl.Expr:
    """A cell that only says "don't know" as one that says nothing."""
    nothing = pl.col(column).map_elements(is_unknown, return_dtype=pl.Boolean)
    return pl.when(~nothing).then(column).alias(column)


def known_as(column: str) -> pl.Expr:
    """Whom a respondent's name or number means, however it is spelt."""
    return one_spelling(pl.col(column)).str.replace(r"^(\d+)\.0+$", "$1")


def _read(name: str, layout: FileLayout, written: pl.DataFrame, *, is_text: bool) -> pl.Expr:
    """One column as the table wants it; what cannot be read is null."""
    cell = f"{name}_written"
    if name == "odometer_mi":
        told = {
            text: read_odometer(text, unit=layout.distance_unit)
            for text in _distinct(written, cell)
            if not re.fullmatch(PLAIN_NUMBER, text)
        }
        return pl.coalesce(_told(cell, told, pl.Float64), read_miles(cell, layout))
    if name in YEARS:
        told = {text: read_year(text, order=layout.dates) for text in _distinct(written, cell)}
        return pl.coalesce(_told(cell, told, pl.Float64), read_number(cell, layout))
    if name == "share":
        said = {text: read_share(text) for text in _distinct(written, cell)}
        return _told(cell, said, pl.String)
    if is_text:
        worded = in_our_words(pl.col(cell), layout.words.get(name, {}))
        return one_spelling(worded) if name == "version" else worded
    return read_number(cell, layout)


def _distinct(written: pl.DataFrame, cell: str) -> list[str]:
    return written[cell].unique().drop_nulls().to_list()


def _told(cell: str, read: Mapping[str, object], dtype: type[pl.DataType]) -> pl.Expr:
    return pl.col(cell).replace_strict(read, default=None, return_dtype=dtype)
