"""From text to typed tables: one function for each table a folder may hold."""

from functools import partial
from pathlib import Path

import polars as pl

from wornby.errors import RecordError
from wornby.records.catalogue import Catalogue
from wornby.records.cells import in_our_words, one_spelling
from wornby.records.kept_tables import forget_others, kept_table
from wornby.records.layout import FileLayout
from wornby.records.loading import layout_paths, named_sheets, sheet_text
from wornby.records.values import (
    read_date,
    read_miles,
    read_money,
    read_number,
    unreadable_number,
)
from wornby.records.wording import EVERY_PLACE, words_pattern

KINDS = ("labour", "part", "consumable", "sublet", "other")
NO_TEXT = pl.DataFrame(
    schema={"file": pl.String, "row": pl.Int64, "out_of_place": pl.String}
    | dict.fromkeys(("vehicle", "date", "first_registered", "component"), pl.String)
)
"""What a table that the layout does not name is read from."""
PLAIN = pl.col("vehicle").str.to_uppercase().str.replace_all(r"[^A-Z0-9]", "")
KEYS = (pl.when(PLAIN != "").then(PLAIN).alias("vehicle"), "date_written", "date")
"""What every table has: the vehicle's registration in one spelling, and the date."""
MOSTLY = 0.5
"""A file with a larger share of unreadable dates has the wrong date order in its layout."""


def load_table(
    folder: Path, layouts: tuple[FileLayout, ...], catalogue: Catalogue, name: str
) -> pl.DataFrame:
    """All files of one table, typed, one under the other; rows of other tables left out.

    Has the table's columns (its day is `date`) and file, row, out_of_place, date_written; no rows
    where the layout names no file for the table.
    """
    of_table = [layout for layout in layouts if layout.table == name]
    parts = [_typed_files(folder, layout, catalogue) for layout in of_table]
    return pl.concat(parts) if parts else _typed(NO_TEXT, _no_layout(name), catalogue)


def _typed_files(folder: Path, layout: FileLayout, catalogue: Catalogue) -> pl.DataFrame:
    """All files of one layout, typed; those that have not changed as they were read before."""
    paths = layout_paths(folder, layout)
    place = repr((layout.table, layout.path, layout.sheet, layout.only_where))
    rates = None if catalogue.money is None else catalogue.money.tax_rate
    known = (rates, tuple(catalogue.components), catalogue.words.positions)

    def typed_file(path: Path) -> pl.DataFrame:
        sheets = named_sheets(folder, path, layout)
        text = pl.concat(sheet_text(name, sheet, layout) for name, sheet in sheets)
        return _typed(text, layout, catalogue)

    whole = pl.concat(
        kept_table(
            folder,
            path,
            (place, repr(layout), repr(known), path.relative_to(folder).as_posix()),
            partial(typed_file, path),
        )
        for path in paths
    )
    forget_others(folder, place, paths)
    return _each_telling_once(whole) if layout.from_job_lines else whole


def _typed(text: pl.DataFrame, layout: FileLayout, catalogue: Catalogue) -> pl.DataFrame:
    _need_the_right_mark(text, layout)
    columns = PARSERS[layout.table](layout, text, catalogue)
    dated = _with_dates(text, layout)
    typed = dated.select("file", "row", "out_of_place", *KEYS, *columns)
    _need_readable_dates(typed, layout)
    return typed


def _no_layout(name: str) -> FileLayout:
    return FileLayout(table=name, path="", columns={}, dates="year first")


def _need_the_right_mark(text: pl.DataFrame, layout: FileLayout) -> None:
    """Refuse a file whose money and hours are mostly written with the other decimal mark."""
    other = r"\.\d{1,2}$" if layout.decimal_mark == "," else r"^\D*\d{1,3},\d{1,2}$"
    for name in ("labour_hours", "price", "cost_net"):
        if name not in text.columns:
            continue
        marked = text.filter(pl.col(name).str.contains(r"[.,]\d{1,2}$"))
        wrong = marked.filter(pl.col(name).str.contains(other))
        if wrong.height > MOSTLY * marked.height:
            first = wrong.row(0, named=True)
            raise RecordError(
                f"{first['file']}: {name} does not use {layout.decimal_mark!r} as decimal mark, "
                f"first row {first['row']}: {first[name]!r}; mend `decimal_mark` in layout.toml"
            )


def _with_dates(text: pl.DataFrame, layout: FileLayout) -> pl.DataFrame:
    """Add date, and date_written: each distinct text is read once, since days have many lines."""
    written = text.rename({_day_of(layout): "date_written"})
    days = written.select("date_written").unique().drop_nulls()
    read = days.with_columns(read_date("date_written", layout).alias("date"))
    return written.join(read, on="date_written", how="left", maintain_order="left")


def _day_of(layout: FileLayout) -> str:
    return "first_registered" if layout.table == "vehicles" else "date"


def _vehicle_columns(layout: FileLayout, text: pl.DataFrame, catalogue: Catalogue) -> list[pl.Expr]:  # noqa: ARG001  # one signature for all tables
    return [one_spelling(_worded("version", layout, text)).fill_null("unknown")]


def _job_line_columns(
    layout: FileLayout, text: pl.DataFrame, catalogue: Catalogue
) -> list[pl.Expr]:
    if layout.prices == "gross" and catalogue.money is None:
        raise RecordError("workshop.toml: no [money] with tax_rate; gross prices need it")
    tax_rate = 0.0 if catalogue.money is None else catalogue.money.tax_rate
    kind = _worded("kind", layout, text).str.to_lowercase()
    numbers = [n for n in ("quantity", "labour_hours", "price", "cost_net") if n in text.columns]
    return [
        unreadable_number(numbers, layout),
        (~kind.is_in(KINDS)).fill_null(False).alias("kind_unknown"),
        _text("job", text),
        _miles(layout, text),
        kind.fill_null("other").alias("kind"),
        _worded("text", layout, text),
        _text("part_number", text),
        _number("quantity", layout, text),
        _number("labour_hours", layout, text),
        (read_money("price", layout, tax_rate) if "price" in text.columns else _nothing()).alias(
            "price_net"
        ),
        _number("cost_net", layout, text),
    ]


def _inspection_columns(
    layout: FileLayout, text: pl.DataFrame, catalogue: Catalogue
) -> list[pl.Expr]:
    names = {name.lower(): name for name in catalogue.components}
    origin = _worded("origin", layout, text).str.to_lowercase()
    return [
        _miles(layout, text),
        pl.col("component")
        .str.to_lowercase()
        .replace_strict(names, default=pl.col("component"), return_dtype=pl.String),
        _place(layout, text, catalogue),
        _worded("condition", layout, text).str.to_lowercase(),
        pl.when(origin.is_in(["original", "renewed"]))
        .then(origin)
        .otherwise(pl.lit("unknown"))
        .alias("origin"),
    ]


def _reading_columns(layout: FileLayout, text: pl.DataFrame, catalogue: Catalogue) -> list[pl.Expr]:  # noqa: ARG001  # one signature for all tables
    return [_miles(layout, text)]


PARSERS = {
    "vehicles": _vehicle_columns,
    "job_lines": _job_line_columns,
    "inspections": _inspection_columns,
    "readings": _reading_columns,
}


def _nothing() -> pl.Expr:
    return pl.lit(None, pl.Float64)


def _text(name: str, text: pl.DataFrame) -> pl.Expr:
    return (pl.col(name) if name in text.columns else pl.lit(None, pl.String)).alias(name)


def _worded(name: str, layout: FileLayout, text: pl.DataFrame) -> pl.Expr:
    """A column in our words, by the layout's [file.words] where it has some."""
    return in_our_words(_text(name, text), layout.words.get(name, {}))


def _place(layout: FileLayout, text: pl.DataFrame, catalogue: Catalogue) -> pl.Expr:
    """The position in our words; null where none is said, or all."""
    written = _worded("position", layout, text).str.to_lowercase()
    known = [
        pl.when(written.str.contains(words_pattern(words))).then(pl.lit(name, pl.String))
        for name, words in catalogue.words.positions.items()
    ]
    place = pl.coalesce([*known, written])
    return pl.when(place != EVERY_PLACE).then(place).alias("position")


def _number(name: str, layout: FileLayout, text: pl.DataFrame) -> pl.Expr:
    return (read_number(name, layout) if name in text.columns else _nothing()).alias(name)


def _miles(layout: FileLayout, text: pl.DataFrame) -> pl.Expr:
    given = "odometer" in text.columns
    return (read_miles("odometer", layout) if given else _nothing()).alias("odometer_mi")


def _each_telling_once(lines: pl.DataFrame) -> pl.DataFrame:
    """What job lines tell of vehicles: a line that tells less than another of its vehicle is none.

    Lines without a registration are the job lines' own account.
    """
    named = lines.filter(pl.col("vehicle").is_not_null() & pl.col("out_of_place").is_null())
    version = pl.when(pl.col("version") != "unknown").then("version")
    told = named.with_columns(
        version=pl.coalesce(version, version.drop_nulls().first().over("vehicle"), "version"),
        dated=pl.col("date").is_not_null().any().over("vehicle"),
    )
    kept = told.filter(pl.col("date").is_not_null() | ~pl.col("dated")).drop("dated")
    return kept.unique(["vehicle", "date", "version"], keep="first", maintain_order=True)


def _need_readable_dates(typed: pl.DataFrame, layout: FileLayout) -> None:
    written = typed.filter(pl.col("date_written").is_not_null() & pl.col("out_of_place").is_null())
    unreadable = written.filter(pl.col("date").is_null())
    if unreadable.height > MOSTLY * written.height:
        first = unreadable.row(0, named=True)
        raise RecordError(
            f"{first['file']}: {unreadable.height} of {written.height} dates cannot be read as "
            f"{layout.dates!r}, first row {first['row']}: {first['date_written']!r}; "
            f"mend `dates` in layout.toml"
        )
