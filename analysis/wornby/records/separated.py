"""Text with separators read into rows, however it is quoted; a row's place is never lost."""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from wornby.errors import RecordError
from wornby.records.headers import LOOKED_AT, Header, find_header, holds_header
from wornby.records.layout import FileLayout
from wornby.records.sheet import Sheet, from_rows, under

SEPARATORS = (",", ";", "\t", "|")
NAMES = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
LONGEST_CELL = 2**31 - 1
END = "\x02end of the file\x02"
"""A last row of our own: where it is not the last one read, a quotation mark was left open."""


@dataclass(frozen=True, slots=True)
class Dialect:
    """By what cells are set apart, and the header that is then found."""

    separator: str
    header: Header


def separated_sheet(name: str, text: str, layout: FileLayout, *, encoding: str) -> Sheet:
    """The rows of a file whose cells are set apart by the layout's separator, or the likeliest.

    The likeliest is the one under which the layout's columns stand in one row.
    """
    dialect = _dialect(name, text, layout)
    how = f"{encoding}, {NAMES.get(dialect.separator, repr(dialect.separator))}"
    quick = _in_one_go(text, dialect, how)
    if quick is not None:
        return quick
    rows = _all_rows(text, dialect.separator)
    _need_closed_quotes(name, rows, dialect)
    return from_rows(rows[:-1], dialect.header, how)


def _dialect(name: str, text: str, layout: FileLayout) -> Dialect:
    stated = layout.separator is not None
    tried = (layout.separator,) if layout.separator is not None else SEPARATORS
    first = {separator: _first_rows(text, separator) for separator in (*tried, *SEPARATORS)}
    for separator in tried:
        if holds_header(first[separator], layout):
            return Dialect(separator, find_header(name, first[separator], layout))
    others = [s for s in SEPARATORS if s not in tried and holds_header(first[s], layout)]
    if stated and others:
        raise RecordError(
            f"{name}: its cells are set apart by {NAMES[others[0]]}, not {layout.separator!r}; "
            "mend `separator` in layout.toml, or leave it out"
        )
    widest = max(tried, key=lambda s: max((len(row) for row in first[s]), default=0))
    return Dialect(widest, find_header(name, first[widest], layout))


def _first_rows(text: str, separator: str) -> list[list[str]]:
    csv.field_size_limit(LONGEST_CELL)
    reader = csv.reader(io.StringIO(text), delimiter=separator, skipinitialspace=True)
    return [row for _, row in zip(range(LOOKED_AT), reader, strict=False)]


def _in_one_go(text: str, dialect: Dialect, how: str) -> Sheet | None:
    """The sheet where each line is a row of as many cells; None where it takes more care."""
    lines = text.rstrip("\n").split("\n")
    header = dialect.header
    even = pl.Series(lines).str.count_matches('"', literal=True) % 2 == 0
    if not even.all():
        return None
    body = "\n".join(lines[header.at :])
    try:
        cells = pl.read_csv(
            body.encode(), has_header=False, separator=dialect.separator, infer_schema=False
        )
    except (pl.exceptions.PolarsError, ValueError):
        return None
    if cells.height != len(lines) - header.at or cells.width != len(header.names):
        return None
    found = under(cells, Header(0, header.depth, header.names), how)
    start = header.at + header.depth + 1
    return Sheet(found.frame, header.at + 1, start, how)


def _all_rows(text: str, separator: str) -> list[list[str]]:
    """Every row, and after the last one a row of our own."""
    csv.field_size_limit(LONGEST_CELL)
    whole = f"{text.rstrip(chr(10))}\n{END}\n"
    return list(csv.reader(io.StringIO(whole), delimiter=separator, skipinitialspace=True))


def _need_closed_quotes(name: str, rows: Sequence[Sequence[str]], dialect: Dialect) -> None:
    """Refuse a file in which a quotation mark that nobody closed has swallowed whole rows."""
    full = len(dialect.header.names) - 1
    closed = list(rows[-1]) == [END]
    for number, row in enumerate(rows, start=1):
        swallowed = any(
            max(line.count(dialect.separator) for line in cell.split("\n")[1:]) >= full
            for cell in row
            if "\n" in cell
        )
        if (swallowed and full) or (not closed and number == len(rows)):
            raise RecordError(
                f'{name}: row {number} opens a quotation mark (") and nothing closes it; close or '
                "remove it, or export the file again"
            )
