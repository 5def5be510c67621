"""What one phrase says of time or distance: each way of writing with the span that it means."""

import calendar
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import TypeAlias

from wornby.records.values import EARLIEST_YEAR, MILES_PER_KM

EPOCH = date(1970, 1, 1).toordinal()
MONTHS_BEFORE_AFTER = {
    "early": (1, 6), "start of": (1, 4), "beginning of": (1, 4), "mid": (4, 9),
    "middle of": (4, 9), "late": (7, 12), "end of": (9, 13), "spring": (3, 5),
    "summer": (6, 8), "autumn": (9, 11), "fall": (9, 11), "winter": (1, 14),
}  # fmt: skip
"""First and last month that a part of a year may mean; 13 is January of the next.

Seasons are northern ones. "Winter 2019" may be the one before or after the year's end.
"""
SMALL_NUMBERS = {
    "a": 1, "an": 1, "one": 1, "two": 2, "a couple of": 2, "couple of": 2, "three": 3,
    "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "ten": 10,
}  # fmt: skip
YEARS_EACH = {"year": 1.0, "yr": 1.0, "month": 1 / 12, "week": 7 / 365.25}
COARSEST_STEP = 1_000.0
"""A distance is taken as rounded to the place of its last digit above 0, thousands at most."""


@dataclass(frozen=True, slots=True)
class Span:
    """What one phrase means: between low and high, on the scale of its kind.

    Kinds: "day" (days since 1970), "ago" (years before the answer), "age" (years since first
    registered), "distance" (miles on the odometer), "before bought". None leaves an end open.
    `precision` says what was named (day, month, season, year, range, distance); `named` is
    the one year or distance named, where it may have been heaped.
    """

    kind: str
    low: float | None = None
    high: float | None = None
    precision: str = "range"
    about: bool = False
    named: int | None = None


Reader: TypeAlias = Callable[[re.Match[str], str, str], Span | None]

YEAR = r"(19[5-9]\d|20\d\d)"
SHORT_YEAR = r"(19[5-9]\d|20\d\d|'?\d\d)"
MONTH = r"(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?"
NUMBER = r"(\d{1,3}(?:[, .]\d{3})+|\d+(?:\.\d+)?)"
TH = r"(?:st|nd|rd|th)?"
UNIT = r"(k|thousand)?\s*(miles|mile|mi|kms|km|kilometres|kilometers)?"
MONTH_NAMES = [name.lower() for name in calendar.month_abbr]


def day_number(year: int, month: int, day: int) -> int | None:
    """Days since 1970; None where the calendar has no such day."""
    try:
        return date(year, month, day).toordinal() - EPOCH
    except ValueError:
        return None


def full_year(text: str) -> int:
    """A year in four digits: "'19" is 2019, "'98" 1998."""
    short = int(text.lstrip("'"))
    return short if short >= EARLIEST_YEAR else short + (1900 if short > 49 else 2000)


def months(year: int, first: int, last: int, precision: str) -> Span | None:
    """From the first day of a month to the last day of another; 13 is the next January."""
    if not 1 <= first <= 12:
        return None
    over, month = divmod(last - 1, 12)
    ends = calendar.monthrange(year + over, month + 1)[1]
    low, high = day_number(year, first, 1), day_number(year + over, month + 1, ends)
    return Span("day", low, high, precision)


def one_day(days: set[int | None]) -> Span | None:
    """A day; where the order of day and month is not known, all that it may be."""
    there = [day for day in days if day is not None]
    return Span("day", min(there), max(there), "day") if there else None


def _numeric_day(match: re.Match[str], order: str, _unit: str) -> Span | None:
    first, second, year = int(match[1]), int(match[2]), full_year(match[3])
    readings = {
        "day first": {day_number(year, second, first)},
        "month first": {day_number(year, first, second)},
    }
    either = {day_number(year, second, first), day_number(year, first, second)}
    return one_day(readings.get(order, either))


def _year(match: re.Match[str], _order: str, _unit: str) -> Span | None:
    year = full_year(match[1])
    low, high = day_number(year, 1, 1), day_number(year, 12, 31)
    return Span("day", low, high, "year", named=year)


def _years(match: re.Match[str], _order: str, _unit: str) -> Span | None:
    first, last = full_year(match[1]), full_year(match[2])
    low, high = day_number(first, 1, 1), day_number(last, 12, 31)
    return Span("day", low, high) if first <= last else None


def _ago(match: re.Match[str], _order: str, _unit: str) -> Span:
    number = float(SMALL_NUMBERS.get(match[1], 0)) or float(match[1])
    each = YEARS_EACH[match[2]]
    return Span("ago", max(number - 0.5, 0.0) * each, (number + 0.5) * each)


def _miles(number: str, thousand: str | None, unit: str | None, usual: str) -> float:
    plain = number if re.fullmatch(r"\d+\.\d{1,2}", number) else re.sub(r"[, .]", "", number)
    in_km = (unit or usual).startswith("k")
    return float(plain) * (1_000 if thousand else 1) * (MILES_PER_KM if in_km else 1)


def _distance(match: re.Match[str], _order: str, unit: str) -> Span | None:
    number, thousand, said = match[1], match[2], match[3]
    if not (thousand or said) and (len(re.sub(r"\D", "", number)) < 5 or may_be_serial(number)):
        return None
    in_unit = _miles(number, thousand, "mi", "mi")
    step = 1.0
    while step < COARSEST_STEP and in_unit % (10 * step) == 0:
        step *= 10
    miles_each = _miles("1", None, said, unit)
    named = int(in_unit) if in_unit and step == COARSEST_STEP else None
    low, high = max(in_unit - step / 2, 0.0), in_unit + step / 2
    return Span("distance", low * miles_each, high * miles_each, "distance", named=named)


def _distances(match: re.Match[str], _order: str, unit: str) -> Span | None:
    thousand, said = match[2] or match[5], match[3] or match[6]
    low, high = (_miles(n, thousand, said, unit) for n in (match[1], match[4]))
    return Span("distance", low, high) if low <= high and high >= COARSEST_STEP else None


def may_be_serial(text: str) -> bool:
    """Whether a bare number may be a spreadsheet's count of days: 1990 to 2049, not rounded."""
    return (
        bool(re.fullmatch(r"\d{5}", text)) and 32_874 <= int(text) < 54_789 and int(text) % 100 > 0
    )


def _calendar_day(year: str, month: str, day: str) -> Span | None:
    number = int(month) if month.isdigit() else MONTH_NAMES.index(month)
    return one_day({day_number(full_year(year), number, int(day))})


def _month_of(year: str, month: str) -> Span | None:
    """One month; "2009-10" may also be two years."""
    number = int(month) if month.isdigit() else MONTH_NAMES.index(month)
    return months(full_year(year), number, number, "month")


def _year_and_two_digits(match: re.Match[str], _order: str, _unit: str) -> Span | None:
    """October 2009 or the years 2009 to 2010, where "2009-10" may be either."""
    year, number = int(match[1]), int(match[2])
    if number == (year + 1) % 100:
        return Span("day", day_number(year, 1, 1), day_number(year + 1, 12, 31))
    return _month_of(match[1], match[2])


READERS: tuple[tuple[str, Reader], ...] = (
    (
        rf"{YEAR}[-/.](\d\d?)[-/.](\d\d?)(?:[ t]\d.*)?",
        lambda m, _o, _u: _calendar_day(m[1], m[2], m[3]),
    ),
    (rf"(\d\d?)[/.-](\d\d?)[/.-]{SHORT_YEAR}", _numeric_day),
    (
        rf"(\d\d?){TH}[ -](?:of )?{MONTH},?[ -]{SHORT_YEAR}",
        lambda m, _o, _u: _calendar_day(m[3], m[2], m[1]),
    ),
    (rf"{MONTH} (\d\d?){TH},? {YEAR}", lambda m, _o, _u: _calendar_day(m[3], m[1], m[2])),
    (rf"{MONTH}[ ,/-]*{SHORT_YEAR}", lambda m, _o, _u: _month_of(m[2], m[1])),
    (rf"(\d\d?)[/.-]{YEAR}", lambda m, _o, _u: months(int(m[2]), int(m[1]), int(m[1]), "month")),
    (rf"{YEAR}-(0[1-9]|1[0-2])", _year_and_two_digits),
    (
        rf"({'|'.join(MONTHS_BEFORE_AFTER)})[ -]*(?:of )?{SHORT_YEAR}",
        lambda m, _o, _u: months(full_year(m[2]), *MONTHS_BEFORE_AFTER[m[1]], "season"),
    ),
    (rf"{YEAR}(?:\.0)?", _year),
    (r"('\d\d)", _year),
    (rf"(?:between )?{YEAR} ?(?:-|/|to|or) ?{SHORT_YEAR}", _years),
    (rf"between {YEAR} and {YEAR}", _years),
    (rf"({'|'.join(SMALL_NUMBERS)}|\d+(?:\.\d+)?) ?(year|yr|month|week)s? ago", _ago),
    (r"last year", lambda _m, _o, _u: Span("ago", 0.0, 2.0)),
    (r"this year", lambda _m, _o, _u: Span("ago", 0.0, 1.0)),
    (r"(\d\d?) ?(?:years?|yrs?)(?: old)?", lambda m, _o, _u: Span("age", int(m[1]), int(m[1]) + 1)),
    (rf"{NUMBER} ?{UNIT} ?(?:-|to|or) ?{NUMBER} ?{UNIT}", _distances),
    (rf"{NUMBER} ?{UNIT}", _distance),
)
"""Each way of writing, tried in turn on the whole phrase."""


def read_span(phrase: str, *, order: str, unit: str) -> Span | None:
    """What a phrase in small letters means; None where no way of writing fits it whole."""
    for pattern, reader in READERS:
        if found := re.fullmatch(pattern, phrase):
            return reader(found, order, unit)
    return None
