"""How each file was read: what it was taken for, where its header stands, what was left unread."""

from collections.abc import Sequence
from pathlib import Path

import polars as pl

from wornby.records.headers import patterns, plain_header, wanted_headers
from wornby.records.layout import FileLayout
from wornby.records.loading import layout_sheets

READINGS: dict[str, pl.DataType | type[pl.DataType]] = {
    "file": pl.String, "tables": pl.List(pl.String), "how": pl.String, "header_row": pl.Int64,
    "rows": pl.Int64, "columns_not_read": pl.List(pl.String),
}  # fmt: skip


def file_readings(folder: Path, layouts: Sequence[FileLayout]) -> pl.DataFrame:
    """A row for each file or sheet: file, tables, how, header_row, rows, columns_not_read.

    A column is read if any of the tables that a file is read for takes it.
    """
    rows = [
        (name, layout.table, sheet.how, sheet.header_row, sheet.frame.height,
         _left_unread(sheet.frame.columns, layout))
        for layout in layouts
        for name, sheet in layout_sheets(folder, layout)
    ]  # fmt: skip
    by_file: dict[str, tuple[object, ...]] = {}
    for name, table, how, header_row, height, left in rows:
        tables, unread = [table], left
        if name in by_file:
            _, before, _, _, _, left_before = by_file[name]
            tables = list(dict.fromkeys([*_texts(before), table]))
            unread = [column for column in _texts(left_before) if column in left]
        by_file[name] = (name, tables, how, header_row, height, unread)
    return pl.DataFrame(list(by_file.values()), schema=READINGS, orient="row")


def _texts(cell: object) -> list[str]:
    return [str(item) for item in cell] if isinstance(cell, list) else []


def _left_unread(headers: Sequence[str], layout: FileLayout) -> list[str]:
    used, told = wanted_headers(layout), patterns(layout)
    return [
        header
        for header in headers
        if header not in used and not any(p.fullmatch(plain_header(header)) for p in told)
    ]
