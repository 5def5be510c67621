"""When respondents answered, when their vehicles were first registered and bought."""

import polars as pl

from wornby.records.judging import Rule, judge
from wornby.survey.told_spans import Span
from wornby.survey.told_when import read_day

TOLD_DATES = ("answered", "first_registered", "bought")
DAYS_PER_YEAR = 365.25


def _unreadable(column: str, what: str, mend: str) -> Rule:
    told = pl.col(f"{column}_written").is_not_null()
    low = pl.col(f"{column}_low").is_null()
    return Rule("set aside", f"{what} not understood", column, told & low, mend)


DATE_RULES = (
    _unreadable("answered", "day of the answer", "write the day; no life is taken without it"),
    _unreadable(
        "first_registered", "first registered", "write a day or a year; the model year is used"
    ),
    _unreadable("bought", "bought when", "write a day or a year; the rest of the answer is used"),
)


def survey_dates(sheets: pl.DataFrame) -> pl.DataFrame:
    """Each answer's dates as days since 1970, judged: column_low and column_high of each.

    `sheets` has what was written and the layout's order of dates. What was told in years before
    the answer, or "new", is reckoned from the answer and from first registered.
    """
    read = {column: _spans(sheets, column) for column in TOLD_DATES}
    rows = [
        _reckoned(*spans) for spans in zip(*(read[column] for column in TOLD_DATES), strict=True)
    ]
    names = [f"{column}_{end}" for column in TOLD_DATES for end in ("low", "high")]
    days = pl.DataFrame(rows, schema=dict.fromkeys(names, pl.Float64), orient="row")
    return judge(sheets.hstack(days), DATE_RULES)


def _spans(sheets: pl.DataFrame, column: str) -> list[Span | None]:
    cells = sheets.select(column, "order").iter_rows()
    return [None if cell is None else read_day(cell, order=order) for cell, order in cells]


def _reckoned(
    answered: Span | None, registered: Span | None, bought: Span | None
) -> tuple[float | None, ...]:
    """All three as days: bought may hang on the others, they only on themselves."""
    day = _days(answered, None, None)
    first = _days(registered, day, None)
    return (*day, *first, *_days(bought, day, first))


Days = tuple[float | None, float | None]
NONE: Days = (None, None)


def _days(span: Span | None, answered: Days | None, registered: Days | None) -> Days:
    """From when to when a span lies, in days since 1970; nothing where that cannot be said."""
    if span is None or span.low is None or span.high is None:
        return NONE
    if span.kind == "day":
        return span.low, span.high
    if span.kind == "ago" and answered is not None and answered[0] is not None:
        day = answered[0]
        return day - span.high * DAYS_PER_YEAR, day - span.low * DAYS_PER_YEAR
    first, last = NONE if registered is None else registered
    if span.kind == "age" and first is not None and last is not None:
        return first + span.low * DAYS_PER_YEAR, last + span.high * DAYS_PER_YEAR
    return NONE
