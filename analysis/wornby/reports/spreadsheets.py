"""The tables of a report for programs and spreadsheets: CSV files and one workbook.

A table leaves with the rows that the page shows, in typed columns. No text in it is ever a
formula: a workbook stores it as text, and in CSV an apostrophe stands before what would be one.
Cautions stand beside the rows, in a column of their own: all those of the table, or, where its rows
tell their own, these.
"""

import io
import re
from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime
from typing import Any

import polars as pl

from wornby.reports.answer import Answer, Answers
from wornby.reports.notebook_run import Piece, Shown
from wornby.reports.sentences import InBrief
from wornby.reports.shown_text import not_a_formula, shown

LONGEST_IN_WORKBOOK = 32_000
"""A cell of a workbook holds 32,767 characters (ECMA-376)."""
LONGEST_SHEET_NAME = 31
WIDEST, NARROWEST = 48, 8
DIGITS = 9
"""Significant ones, more than any estimate has: the last of sixteen differ from run to run."""
MADE_ON = datetime(2000, 1, 1, tzinfo=UTC)
"""The same workbook every time; nothing in it says when or where it was made."""
UNITS = {
    "years": "years",
    "months": "months",
    "days": "days",
    "hours": "hours",
    "miles": "miles",
    "mi": "miles",
    "share": "share of 1",
}
MONEY = "net"
DAYS = {
    "day month year": "d mmmm yyyy",
    "month day year": "mmmm d, yyyy",
    "day/month/year": "dd/mm/yyyy",
    "month/day/year": "mm/dd/yyyy",
    "year-month-day": "yyyy-mm-dd",
}
"""How a workbook shows a day, for each `date_format` of workshop.toml."""


def tables_of(pieces: Sequence[Piece]) -> list[Answer]:
    """The answers that a report shows, in order."""
    return [answer for piece in pieces if isinstance(piece, Shown) for answer in _in(piece.value)]


def _in(value: object) -> Iterator[Answer]:
    match value:
        case Answer():
            yield value
        case Answers(answers):
            yield from answers
        case InBrief(answer=answer):
            yield answer


def exported(answer: Answer) -> pl.DataFrame:
    """The typed rows of what the page shows; the rows to read where those stand for others.

    A list in a cell, which neither CSV nor a workbook knows, is written out.
    """
    typed = answer.a_row_a_cell or answer.frame.height == answer.people.height
    nested = answer.frame if typed else answer.people
    if (warned := answer.cautions()) and "cautions" not in nested.columns:
        nested = nested.with_columns(cautions=pl.lit(" ".join(warned)))
    frame = nested.with_columns(
        pl.col(name)
        .map_elements(lambda cell: "; ".join(map(str, cell)), return_dtype=pl.String)
        .alias(name)
        for name, kind in nested.schema.items()
        if isinstance(kind, pl.List)
    )
    texts = [name for name, kind in frame.schema.items() if kind == pl.String]
    finite = [
        pl.when(pl.col(name).is_finite()).then(pl.col(name).round_sig_figs(DIGITS)).alias(name)
        for name, kind in frame.schema.items()
        if kind.is_float()
    ]
    return frame.with_columns(
        *finite,
        *(
            pl.col(name).map_elements(_text, return_dtype=pl.String, skip_nulls=True)
            for name in texts
        ),
    )


def _text(text: str) -> str:
    return shown(text, longest=LONGEST_IN_WORKBOOK)


def csv_text(answer: Answer) -> str:
    """One table as CSV, its columns named as programs name them."""
    frame = exported(answer)
    texts = [name for name, kind in frame.schema.items() if kind == pl.String]
    safe = frame.with_columns(
        pl.col(name).map_elements(not_a_formula, return_dtype=pl.String, skip_nulls=True)
        for name in texts
    )
    return safe.rename({name: not_a_formula(_text(name)) for name in safe.columns}).write_csv()


def file_name(answer: Answer, number: int) -> str:
    """The CSV's name: the place in the report and the title, in plain letters."""
    plain = re.sub(r"[^a-z0-9]+", "_", answer.title.lower()).strip("_")[:60].rstrip("_")
    return f"{number:02d}_{plain}.csv"


def workbook(
    answers: Sequence[Answer], *, currency: str | None, date_format: str = "year-month-day"
) -> bytes:
    """All tables, a sheet each: a frozen head that names units, typed cells, fitting widths."""
    from xlsxwriter import Workbook

    kept = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    with Workbook(kept, options) as book:
        book.set_properties({"created": MADE_ON, "title": "wornby"})
        head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
        day = book.add_format({"num_format": DAYS[date_format]})
        for number, answer in enumerate(answers, start=1):
            sheet = book.add_worksheet(_sheet_name(answer, number))
            _fill(sheet, exported(answer), head=head, day=day, currency=currency)
    return kept.getvalue()


def _sheet_name(answer: Answer, number: int) -> str:
    plain = re.sub(r"[^\w .,-]+", " ", shown(answer.title)).strip()
    return f"{number:02d} {plain}"[:LONGEST_SHEET_NAME].rstrip(" .,")


def _fill(sheet: Any, frame: pl.DataFrame, *, head: Any, day: Any, currency: str | None) -> None:
    for n, (name, column) in enumerate(frame.to_dict().items()):
        title = head_with_unit(name, currency)
        sheet.write_string(0, n, title, head)
        for row, value in enumerate(column, start=1):
            _write(sheet, (row, n), value, day)
        longest = max((len(str(v)) for v in column if v is not None), default=0)
        fitting = max(min(longest, WIDEST), *map(len, title.split()), NARROWEST)
        sheet.set_column(n, n, fitting + 2)
    sheet.freeze_panes(1, 1)


def _write(sheet: Any, at: tuple[int, int], value: object, day: Any) -> None:
    """One cell by its own type: a text is a text whatever it looks like."""
    match value:
        case None:
            return
        case bool():
            sheet.write_boolean(*at, value)
        case int() | float():
            sheet.write_number(*at, value)
        case date():
            sheet.write_datetime(*at, value, day)
        case _:
            sheet.write_string(*at, str(value))


def head_with_unit(name: str, currency: str | None) -> str:
    """A column's name as a reader wants it, its unit in brackets.

    >>> head_with_unit("renew_at_years", None), head_with_unit("floor_price_net", "GBP")
    ('renew at (years)', 'floor price (GBP before tax)')
    """
    words = shown(name).split("_")
    last = words[-1]
    unit = UNITS.get(last)
    if last == MONEY:
        unit = f"{currency or 'money'} before tax"
    if unit is None or len(words) == 1:
        return " ".join(words)
    return f"{' '.join(words[:-1])} ({unit})"
