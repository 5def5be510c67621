"""A layout's files as text under our column names, whatever they were saved as."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import polars as pl

from wornby.errors import RecordError
from wornby.records.cells import as_written
from wornby.records.forms import file_sheets
from wornby.records.layout import FileLayout
from wornby.records.sheet import BEYOND, Sheet

ROW = "number of the row"
EMPTY = "empty row"
TOO_LONG = "more cells than the header"
HEADER_AGAIN = "header repeated"
TOTAL = "total of other rows"
OTHER_TABLE = "belongs to another table"
TOTALS = r"(?i)^(grand |sub[- ]?|overall )?(total|sum|average|mean|count)s?:?$"
"""What stands first in a row that sums the others."""
HEAD, TOLD_ONCE = ("date", "vehicle"), ("job", "odometer")
"""What says which job a line is of, and what an export may tell on a job's first line alone."""


def load_text(folder: Path, layout: FileLayout) -> pl.DataFrame:
    """Every row of the layout's files as text under our column names, with file and row.

    `row` counts as a spreadsheet does, from the top of the sheet. Nothing is interpreted yet;
    blank cells and the layout's `missing` texts are null. `out_of_place` says why a row is none
    of this table's, and is null for those that are.
    """
    return pl.concat(
        sheet_text(name, sheet, layout) for name, sheet in layout_sheets(folder, layout)
    )


def rows_of_tables(folder: Path, layouts: Sequence[FileLayout]) -> list[tuple[str, str, int]]:
    """Of each file of the layout its table, its path and how many rows stand in it."""
    return [
        (layout.table, layout.path, sum(s.frame.height for _, s in layout_sheets(folder, layout)))
        for layout in layouts
    ]


def layout_sheets(folder: Path, layout: FileLayout) -> Iterator[tuple[str, Sheet]]:
    """Each sheet that the layout names, with the name that its rows go by."""
    for path in layout_paths(folder, layout):
        yield from named_sheets(folder, path, layout)


def named_sheets(folder: Path, path: Path, layout: FileLayout) -> Iterator[tuple[str, Sheet]]:
    """Each sheet of one file, with the name that its rows go by."""
    name = path.relative_to(folder).as_posix()
    for sheet in file_sheets(name, path, layout):
        yield f"{name}{sheet.place}", sheet


def header_names(folder: Path, layout: FileLayout) -> list[str]:
    """The headers of the layout's first file."""
    _, sheet = next(layout_sheets(folder, layout))
    return sheet.frame.columns


def layout_paths(folder: Path, layout: FileLayout) -> list[Path]:
    """The files that the layout's path, or pattern, means; never those that programs leave open."""
    try:
        # pathlib raises NotImplementedError for a pattern that begins at the root
        found = sorted(p for p in folder.glob(layout.path) if p.is_file())
    except (ValueError, NotImplementedError):
        raise RecordError(
            f"layout.toml: path = {layout.path!r}: wanted a file in the folder, or a pattern"
        ) from None
    paths = [p for p in found if not p.name.startswith(("~$", "."))]
    if not paths:
        raise RecordError(
            f"{layout.path}: no such file in {folder}; put it there or mend `path` in layout.toml"
        )
    return paths


def sheet_text(name: str, sheet: Sheet, layout: FileLayout) -> pl.DataFrame:
    """A sheet's rows under our column names."""
    used = {header for headers in layout.columns.values() for header in headers if header != "row"}
    used |= set() if layout.only_where is None else {layout.only_where}
    theirs = sheet.frame.with_columns(as_written(sheet.frame, sorted(used), layout.missing))
    placed = theirs.with_columns(out_of_place=_out_of_place(theirs, layout))
    numbered = placed.with_row_index(ROW, offset=sheet.first_row)
    ours = [
        pl.concat_str([ROW if n == "row" else n for n in names], separator="-").alias(ours)
        for ours, names in layout.columns.items()
    ]
    constants = [pl.lit(value).alias(ours) for ours, value in layout.constants.items()]
    text = numbered.select(
        pl.lit(name).alias("file"),
        pl.col(ROW).cast(pl.Int64).alias("row"),
        "out_of_place",
        *ours,
        *constants,
    )
    return _carried_down(text) if layout.carried_down else text


def _carried_down(text: pl.DataFrame) -> pl.DataFrame:
    """Each line without a date and a vehicle in the job of the last line above that has them."""
    in_place, told = pl.col("out_of_place").is_null(), pl.any_horizontal(pl.col(HEAD).is_not_null())
    job = (in_place & told).cum_sum()
    below = in_place & ~told & (job > 0)
    return text.with_columns(
        pl.when(below).then(pl.coalesce(name, pl.col(name).first().over(job))).otherwise(name)
        for name in (*HEAD, *TOLD_ONCE)
        if name in text.columns
    )


def _out_of_place(cells: pl.DataFrame, layout: FileLayout) -> pl.Expr:
    """Why a row is none of the table's: blank, too long, a header or a total, another table's."""
    headers = [header for header in cells.columns if header != BEYOND]
    blank = [
        pl.col(header).is_null() | (pl.col(header).str.strip_chars() == "") for header in headers
    ]
    first = pl.coalesce(
        pl.when(~nothing).then(header) for header, nothing in zip(headers, blank, strict=True)
    )
    reasons = [pl.when(pl.all_horizontal(blank)).then(pl.lit(EMPTY))]
    if BEYOND in cells.columns:
        reasons.append(pl.when(pl.col(BEYOND).is_not_null()).then(pl.lit(TOO_LONG)))
    if (again := _header_again(cells, headers)) is not None:
        reasons.append(pl.when(again).then(pl.lit(HEADER_AGAIN)))
    reasons.append(pl.when(first.str.strip_chars().str.contains(TOTALS)).then(pl.lit(TOTAL)))
    if layout.only_where is not None:
        reasons.append(pl.when(pl.col(layout.only_where).is_null()).then(pl.lit(OTHER_TABLE)))
    return pl.coalesce([*reasons, pl.lit(None, pl.String)])


def _header_again(cells: pl.DataFrame, headers: Sequence[str]) -> pl.Expr | None:
    """Which rows hold nothing but their own headers; None where no row may."""

    def is_header(header: str) -> pl.Expr:
        return pl.col(header).str.strip_chars().str.to_lowercase() == header.lower()

    if not cells.select(pl.any_horizontal(is_header(headers[0]).any())).item():
        return None
    empty = [pl.col(header).is_null() | (pl.col(header) == "") for header in headers]
    return pl.all_horizontal(
        is_header(header).fill_null(False) | nothing
        for header, nothing in zip(headers, empty, strict=True)
    )
