"""One sheet of a file: its cells as text under its headers, and where in the file they stand."""

from dataclasses import dataclass, replace

import polars as pl

from wornby.records.headers import Header

BEYOND = "cells beyond the header"
"""A column that only a sheet with rows longer than its header has: what they hold too much."""


@dataclass(frozen=True, eq=False, slots=True)
class Sheet:
    """The rows under a header: `frame` has a column of text for each header, blank cells null.

    `place` names the sheet within its file, where that holds several that are read; `header_row`
    counts from 1, as a spreadsheet does, and `first_row` is the one under it. `how` says in what
    form, encoding and so on the file was read.
    """

    frame: pl.DataFrame
    header_row: int
    first_row: int
    how: str
    place: str = ""


def under(cells: pl.DataFrame, header: Header, how: str) -> Sheet:
    """The sheet whose cells have a header in one of their first rows."""
    body = cells.slice(header.at + header.depth)
    names = dict(zip(cells.columns, header.names, strict=False))
    return Sheet(body.rename(names), header.at + 1, header.at + header.depth + 1, how)


def without_blank_end(sheet: Sheet) -> Sheet:
    """The sheet without blank rows below its last cell: no rows, but formatting."""
    blank = sheet.frame.select(
        pl.all_horizontal(pl.all().str.strip_chars().replace("", None).is_null())
    ).to_series()
    filled = (~blank).arg_true()
    last = filled[-1] + 1 if filled.len() else 0
    return replace(sheet, frame=sheet.frame.head(last))


def from_rows(rows: list[list[str]], header: Header, how: str) -> Sheet:
    """The sheet made of rows of unequal length; what a row has too much is kept apart."""
    width, start = len(header.names), header.at + header.depth
    body = rows[start:]
    columns = {
        name: [row[n] if n < len(row) else None for row in body]
        for n, name in enumerate(header.names)
    }
    beyond = [" ".join(cell for cell in row[width:] if cell.strip()) or None for row in body]
    if any(beyond):
        columns[BEYOND] = beyond
    frame = pl.DataFrame(columns, schema=dict.fromkeys(columns, pl.String))
    return Sheet(frame, header.at + 1, start + 1, how)
