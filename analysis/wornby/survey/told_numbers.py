"""Model years and odometers as owners write them; what may mean two things is not guessed."""

import re
from datetime import date, timedelta

from wornby.records.values import EARLIEST_YEAR
from wornby.survey.told_when import plain_text, read_day, read_when

LATEST_YEAR = 2100
EPOCH_YEAR = 1970
COUNTED_FROM = date(1899, 12, 30)
"""A spreadsheet's day nought: a year shown as a date is so many days after it."""
NAMED = r"(?:my|model(?: year)?|year|reg(?:istered)?)"
PLAIN_YEAR = rf"(?:{NAMED} ?)?((?:19|20)\d\d)(?:\.0+)?(?: ?{NAMED})?"
THOUSANDS = r"\d{1,3}(?:[.,' ]\d{3})+"


def read_year(cell: str, *, order: str) -> int | None:
    """The one year that a cell names, or in which the one day lies that it names.

    A spreadsheet that takes a year for its own count of days shows 2007 as a day of 1905.

    >>> [read_year(t, order="day first") for t in ("MY2007", "1/6/2007", "1905-06-29")]
    [2007, 2007, 2007]
    >>> read_year("2007 or 2008", order="day first") is None
    True
    """
    plain = plain_text(cell)
    if found := re.fullmatch(PLAIN_YEAR, plain):
        return _possible(int(found[1]))
    if shown := re.fullmatch(r"(19\d\d)-(\d\d)-(\d\d)(?: 00:00:00)?", plain):
        counted = _days_counted(int(shown[1]), int(shown[2]), int(shown[3]))
        if counted is not None and _possible(counted):
            return counted
    span = read_day(cell, order=order)
    if span is None or span.kind != "day" or span.about or span.low is None or span.high is None:
        return None
    first, last = (date(EPOCH_YEAR, 1, 1) + timedelta(days=day) for day in (span.low, span.high))
    return _possible(first.year) if first.year == last.year else None


def read_odometer(cell: str, *, unit: str) -> float | None:
    """The distance that a cell tells of, the middle where it is a range or about; in miles.

    >>> read_odometer("80-90k", unit="mi"), read_odometer("84.000", unit="mi")
    (85000.0, 84000.0)
    >>> read_odometer("84 at the last test, 86 now", unit="mi") is None
    True
    """
    plain = plain_text(cell)
    if plain.startswith("-"):
        return None
    if re.fullmatch(THOUSANDS, plain):
        plain = re.sub(r"\D", "", plain) + f" {unit}"
    if re.fullmatch(r"\d+", plain):
        plain = f"{plain} {unit}"
    told = read_when(plain, order="year first", unit=unit)
    if told is None or len(told) != 1 or told[0].time is not None:
        return None
    span = told[0].distance
    if span is None or span.low is None or span.high is None:
        return None
    return (span.low + span.high) / 2


def _possible(year: int) -> int | None:
    return year if EARLIEST_YEAR <= year < LATEST_YEAR else None


def _days_counted(year: int, month: int, day: int) -> int | None:
    try:
        return (date(year, month, day) - COUNTED_FROM).days
    except ValueError:
        return None
