"""Cells copied from a spreadsheet or a web page, for a notebook."""

import csv
from pathlib import Path

import polars as pl

from wornby.errors import RecordError
from wornby.records.cells import as_written
from wornby.records.forms import text_sheet
from wornby.records.layout import FileLayout
from wornby.records.separated import SEPARATORS

NO_SEPARATOR = "\x01"
"""A sign that no clipboard holds: a line stays whole."""
NOTHING = "nothing to read: copy the cells with their header first"


def pasted_table(text: str | None = None, *, to: Path | str | None = None) -> pl.DataFrame:
    """The cells in a text, or on the clipboard, as a table of text under its first row.

    They are read as a file with separators is. With `to`, a CSV file, the table is written there
    for layout.toml to name; a file that is there already is not overwritten. RecordError where
    there is nothing to read, or no clipboard within reach, as on a server.

    >>> pasted_table("Reg\\tMiles\\nQQ1 AAA\\t84,000")["Miles"].to_list()
    ['84,000']
    """
    given = _clipboard() if text is None else text
    lines = [line for line in given.splitlines() if line.strip()]
    if not lines:
        raise RecordError(NOTHING)
    separator = max(reversed(SEPARATORS), key=lines[0].count)
    layout = FileLayout(table="", path="", columns={}, separator=separator)
    frame = text_sheet("pasted text", given.encode(), layout).frame
    table = frame.with_columns(as_written(frame, frame.columns, ()))
    if to is not None:
        _write_new(table, Path(to))
    return table


def _clipboard() -> str:
    """The lines on the clipboard, by pandas' means of reaching it on each system."""
    import pandas as pd

    try:
        lines = pd.read_clipboard(
            sep=NO_SEPARATOR,
            header=None,
            dtype=str,
            keep_default_na=False,
            quoting=csv.QUOTE_NONE,
            skip_blank_lines=False,
        )
    except pd.errors.EmptyDataError:
        raise RecordError(NOTHING) from None
    except pd.errors.PyperclipException:
        raise RecordError(
            "no clipboard within reach: paste the cells between triple quotes, as "
            'pasted_table("""...""")'
        ) from None
    return "\n".join(lines.iloc[:, 0])


def _write_new(table: pl.DataFrame, to: Path) -> None:
    try:
        with to.open("x", encoding="utf-8") as file:
            file.write(table.write_csv())
    except FileExistsError:
        raise RecordError(f"{to}: is there already; choose another name") from None
