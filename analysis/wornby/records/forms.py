"""Whatever form a file has, its sheets: by what it holds, not by what it is called."""

from pathlib import Path

import polars as pl

from wornby.errors import RecordError
from wornby.records.databases import duckdb_sheet, sqlite_sheet
from wornby.records.decoding import decoded
from wornby.records.headers import find_header
from wornby.records.layout import FileLayout
from wornby.records.separated import separated_sheet
from wornby.records.sheet import Sheet
from wornby.records.workbooks import workbook_sheets

BEGINNINGS = {
    b"PK\x03\x04": "workbook",
    b"\xd0\xcf\x11\xe0": "workbook",
    b"PAR1": "parquet",
    b"SQLite format 3\x00": "sqlite",
    b"%PDF": "a PDF",
    b"\xff\xd8\xff": "a picture",
    b"\x89PNG": "a picture",
    b"\x1f\x8b": "a compressed file",
}
"""The first bytes by which a form is known, from each form's own specification."""
DUCK = (8, b"DUCK")
TABLES = ("workbook", "parquet", "sqlite", "duckdb", "text")
PAGE = ("<html", "<!doctype html", "<table", "<?xml")


def file_sheets(name: str, path: Path, layout: FileLayout) -> list[Sheet]:
    """The sheets of one file that the layout means; RecordError where it is none to be read."""
    try:
        with path.open("rb") as file:
            form = _form(file.read(16))
        if form not in TABLES:
            raise RecordError(f"{name}: is {form}, not a table; export it as CSV, XLSX or Parquet")
        if form == "workbook":
            return workbook_sheets(name, path, layout)
        if form == "sqlite":
            return [sqlite_sheet(name, path, layout)]
        if form == "duckdb":
            return [duckdb_sheet(name, path, layout)]
        if form == "parquet":
            return [_parquet_sheet(name, path, layout)]
        return [text_sheet(name, path.read_bytes(), layout)]
    except OSError as error:
        raise RecordError(
            f"{name}: cannot be opened: {error.strerror}; close it elsewhere"
        ) from None


def text_sheet(name: str, raw: bytes, layout: FileLayout) -> Sheet:
    """The sheet that a text with separators is."""
    text, encoding = decoded(name, raw, layout.encoding)
    if not text.strip():
        raise RecordError(f"{name}: is empty; export it again")
    if text.lstrip()[:20].lower().startswith(PAGE):
        raise RecordError(
            f"{name}: is a web page, whatever its name says; open it in a spreadsheet and save it "
            "as CSV or XLSX"
        )
    return separated_sheet(name, text, layout, encoding=encoding)


def _form(beginning: bytes) -> str:
    start, mark = DUCK
    if beginning[start : start + len(mark)] == mark:
        return "duckdb"
    return next((form for mark, form in BEGINNINGS.items() if beginning.startswith(mark)), "text")


def _parquet_sheet(name: str, path: Path, layout: FileLayout) -> Sheet:
    """Read by pyarrow, which refuses a broken file where polars stops the program."""
    import pyarrow as pa
    from pyarrow.parquet import read_table

    try:
        table = read_table(path)
        table.validate(full=True)
        frame = pl.DataFrame(table)
        text = frame.select(pl.all().cast(pl.String))
    except (pa.ArrowException, pl.exceptions.PolarsError, OSError, ValueError) as error:
        reason = (str(error).splitlines() or ["broken"])[0]
        raise RecordError(
            f"{name}: cannot be read as Parquet: {reason}; export plain columns again"
        ) from None
    header = find_header(name, [text.columns], layout)
    # the names are no row of their own there
    whole = text.rename(dict(zip(text.columns, header.names, strict=True)))
    return Sheet(whole, 1, 2, "Parquet")
