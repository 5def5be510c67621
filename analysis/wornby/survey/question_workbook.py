"""The questions as a workbook to fill in: one row a respondent, choices to pick from."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from wornby.survey.questions import Question

ANSWERS, HELP, LISTS = "Answers", "How to fill it in", "Lists"
MOST_ROWS = 1_000
COLUMN_WIDTH, HEADER_HEIGHT = 22, 78
PLAIN_TEXT = "@"
"""Cells that a spreadsheet leaves as typed: it would turn 03/2019 into a day."""
YEARS = (1950, 2100)
MADE_ON = datetime(2000, 1, 1, tzinfo=UTC)
"""The same workbook every time; nothing in it says when or where it was made."""


def write_workbook(path: Path, questions: Sequence[Question], *, guide: Sequence[str]) -> None:
    """Write the sheet with a column for each question, and the guide beside it."""
    import xlsxwriter

    with xlsxwriter.Workbook(str(path), {"strings_to_formulas": False}) as book:
        book.set_properties({"title": "Questions to members", "created": MADE_ON})
        sheet = book.add_worksheet(ANSWERS)
        _help(book, questions, guide)
        _fill_sheet(book, sheet, questions)
        _lists(book, sheet, questions)


def _fill_sheet(book: Any, sheet: Any, questions: Sequence[Question]) -> None:
    head = book.add_format(
        {"bold": True, "text_wrap": True, "valign": "top", "bg_color": "#e8eef1", "border": 1}
    )
    as_typed = book.add_format({"num_format": PLAIN_TEXT})
    sheet.set_row(0, HEADER_HEIGHT)
    sheet.set_column(0, len(questions) - 1, COLUMN_WIDTH, as_typed)
    for n, question in enumerate(questions):
        sheet.write_string(0, n, question.words, head)
        if question.column == "model_year":
            _whole_number(sheet, n, question, *YEARS)
    sheet.freeze_panes(1, 0)
    sheet.set_landscape()
    sheet.repeat_rows(0)
    sheet.activate()


def _whole_number(sheet: Any, column: int, question: Question, least: int, most: int) -> None:
    sheet.data_validation(
        1,
        column,
        MOST_ROWS,
        column,
        {
            "validate": "integer",
            "criteria": "between",
            "minimum": least,
            "maximum": most,
            "error_type": "warning",
            "error_message": question.how,
        },
    )


def _lists(book: Any, sheet: Any, questions: Sequence[Question]) -> None:
    """Choices on a sheet of their own: a list within a cell's rule holds 255 characters only."""
    lists = book.add_worksheet(LISTS)
    lists.hide()
    columns: dict[tuple[str, ...], int] = {}
    for n, question in enumerate(questions):
        if not question.choices:
            continue
        at = columns.setdefault(question.choices, len(columns))
        lists.write_column(0, at, question.choices)
        column = _letters(at)
        sheet.data_validation(
            1,
            n,
            MOST_ROWS,
            n,
            {
                "validate": "list",
                "source": f"={LISTS}!${column}$1:${column}${len(question.choices)}",
                "error_type": "warning",
                "error_message": "Pick one of the list if any of them fits.",
            },
        )


def _letters(column: int) -> str:
    from xlsxwriter.utility import xl_col_to_name

    return str(xl_col_to_name(column))


def _help(book: Any, questions: Sequence[Question], guide: Sequence[str]) -> None:
    bold = book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
    plain = book.add_format({"text_wrap": True, "valign": "top"})
    sheet = book.add_worksheet(HELP)
    sheet.set_column(0, 0, 46, plain)
    sheet.set_column(1, 1, 90, plain)
    for row, line in enumerate(guide):
        sheet.merge_range(row, 0, row, 1, line, plain)
    top = len(guide) + 1
    sheet.write_row(top, 0, ("Question", "How to answer"), bold)
    for row, question in enumerate(questions, start=top + 1):
        sheet.write_string(row, 0, question.words, plain)
        sheet.write_string(row, 1, _how(question), plain)


def _how(question: Question) -> str:
    picks = f" Pick: {', '.join(question.choices)}." if question.choices else ""
    return f"{question.how}{picks}"
