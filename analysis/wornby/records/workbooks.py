"""Sheets of a workbook as text."""

from fnmatch import fnmatchcase
from pathlib import Path

import polars as pl

from wornby.errors import RecordError
from wornby.records.headers import LOOKED_AT, find_header, holds_header
from wornby.records.layout import FileLayout
from wornby.records.sheet import Sheet, under, without_blank_end

PATTERN = "*?["
"""Signs that make the name of a sheet a pattern for several."""


def workbook_sheets(name: str, path: Path, layout: FileLayout) -> list[Sheet]:
    """The sheets that the layout names, by a pattern all that fit it.

    Where it names none, the first in which its columns stand; hidden sheets come last.
    """
    import fastexcel

    try:
        book = fastexcel.read_excel(path)
        loaded = {
            sheet: book.load_sheet(sheet, header_row=None, skip_rows=0, dtypes="string")
            for sheet in _chosen(name, book.sheet_names, layout)
        }
    except fastexcel.FastExcelError as error:
        reason = str(error).splitlines()[0]
        raise RecordError(
            f"{name}: cannot be read as a workbook: {reason}; save it again as XLSX, without a "
            "password"
        ) from None
    if not loaded:
        raise RecordError(f"{name}: holds no sheet; export it again")
    shown = sorted(loaded, key=lambda sheet: loaded[sheet].visible != "visible")
    cells = {sheet: loaded[sheet].to_polars() for sheet in shown}
    if layout.sheet is None:
        cells = _first_fitting(cells, layout)
    several = layout.sheet is not None and any(sign in layout.sheet for sign in PATTERN)
    return [
        _sheet(name, title, frame.select(pl.all().cast(pl.String)), layout, several=several)
        for title, frame in cells.items()
    ]


def _chosen(name: str, there: list[str], layout: FileLayout) -> list[str]:
    """The names of the sheets to read, of which there must be one."""
    if layout.sheet is None:
        return there
    plain = {sheet.strip().casefold(): sheet for sheet in there}
    fitting = [sheet for sheet in there if fnmatchcase(sheet, layout.sheet)]
    alike = plain.get(layout.sheet.strip().casefold())
    if layout.sheet in there or (alike is not None and not fitting):
        return [layout.sheet if layout.sheet in there else str(alike)]
    if not fitting:
        raise RecordError(f"{name}: no sheet {layout.sheet!r}; it has {', '.join(there)}")
    return fitting


def _first_fitting(cells: dict[str, pl.DataFrame], layout: FileLayout) -> dict[str, pl.DataFrame]:
    """The first sheet with the layout's header; without one, the first that holds anything."""
    fits = [t for t, frame in cells.items() if holds_header(frame.head(LOOKED_AT).rows(), layout)]
    filled = [title for title, frame in cells.items() if frame.height]
    chosen = [*fits, *filled, *cells][0]
    return {chosen: cells[chosen]}


def _sheet(
    name: str, title: str, cells: pl.DataFrame, layout: FileLayout, *, several: bool
) -> Sheet:
    where = f"{name}, sheet {title!r}"
    header = find_header(where, cells.head(LOOKED_AT).rows(), layout)
    made = without_blank_end(under(cells, header, f"workbook, sheet {title!r}"))
    place = f", {title}" if several else ""
    return Sheet(made.frame, made.header_row, made.first_row, made.how, place)
