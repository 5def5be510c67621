"""From text to dates, numbers and distances; what cannot be read stays null."""

from collections.abc import Sequence

import polars as pl

from wornby.records.conventions import PER_MILE
from wornby.records.layout import FileLayout

MILES_PER_KM = 1 / PER_MILE["kilometres"]
EARLIEST_YEAR = 1950

DAY_FIRST = ("%d/%m/%Y", "%d-%m-%Y", "%d.%m.%Y", "%d/%m/%y", "%d-%m-%y", "%d.%m.%y")
MONTH_FIRST = ("%m/%d/%Y", "%m-%d-%Y", "%m.%d.%Y", "%m/%d/%y", "%m-%d-%y", "%m.%d.%y")
WRITTEN_OUT = (
    "%d %b %Y", "%d-%b-%Y", "%d %B %Y", "%d-%b-%y", "%b %d, %Y", "%B %d, %Y", "%d %b %y",
)  # fmt: skip
WEEKDAY = r"(?i)^(mon|tues?|wed(nes)?|thu(rs)?|fri|sat(ur)?|sun)(day)?[., ]+"
YEAR_FIRST = ("%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%Y%m%d")
FORMATS = {
    "day first": (*DAY_FIRST, "%Y-%m-%d", *WRITTEN_OUT),
    "month first": (*MONTH_FIRST, "%Y-%m-%d", *WRITTEN_OUT),
    "year first": (*YEAR_FIRST, *WRITTEN_OUT),
    "year and month": ("%Y-%m-%d", "%y-%m-%d"),
    "year": ("%Y-%m-%d", *DAY_FIRST),
}
"""Formats tried in turn under each order of dates; an ISO date is never ambiguous."""


def read_date(column: str, layout: FileLayout) -> pl.Expr:
    """A date under the layout's order; a month or a year alone stands for its middle."""
    text = pl.col(column).str.replace(r"[ T]\d{1,2}:\d{2}.*$", "").str.replace(WEEKDAY, "")
    text = text.str.replace(r"(\d)(st|nd|rd|th)\b", "$1")
    if layout.dates.startswith("days since "):
        day_zero = pl.lit(layout.dates.removeprefix("days since ")).str.to_date("%Y-%m-%d")
        return day_zero + pl.duration(days=text.cast(pl.Float64, strict=False).cast(pl.Int64))
    if layout.dates == "year and month":
        text = text + pl.lit("-15")
    if layout.dates == "year":
        text = text.str.replace(r"^(\d{4})$", "$1-07-01")
    # A bare number of five digits is a spreadsheet's own count of days.
    serial = pl.when(text.str.contains(r"^\d{5}(\.\d*)?$")).then(
        text.cast(pl.Float64, strict=False)
    )
    from_sheet = pl.date(1899, 12, 30) + pl.duration(days=serial.cast(pl.Int64))
    readings = [_within_reason(text.str.to_date(f, strict=False)) for f in FORMATS[layout.dates]]
    return pl.coalesce([*readings, from_sheet])


def _within_reason(date: pl.Expr) -> pl.Expr:
    return pl.when(date.dt.year() >= EARLIEST_YEAR).then(date)


NUMBER = r"^[-+]?\d*\.?\d+$|^[-+]?\d+\.$"
"""What is left of a number once currency, unit, spaces and thousands are gone."""

NO_THOUSANDS = r"^[-+]?\d+\.(\d{1,2}|\d{4,})$"
"""A point that can stand before no thousands: a workbook's own number among texts with commas."""


def plain_number(column: str | pl.Expr, layout: FileLayout) -> pl.Expr:
    """The cell with a decimal point and nothing but a number; brackets or a last minus: below 0."""
    cell = pl.col(column) if isinstance(column, str) else column
    text = cell.str.to_lowercase().str.replace_all(r"\s|[£€$]|gbp|eur|usd", "")
    text = text.str.replace(r"^\((.*)\)$", "-$1").str.replace(r"^(.*)-$", "-$1")
    text = text.str.replace(r"(km|kms|miles|mile|mi|m|h|hrs|hours)$", "")
    if layout.decimal_mark == ",":
        no_points = text.str.replace_all(".", "", literal=True)
        commas = no_points.str.replace(",", ".", literal=True)
        return pl.when(text.str.contains(NO_THOUSANDS)).then(text).otherwise(commas)
    return text.str.replace_all(r",(\d{3})", "$1")


def read_number(column: str | pl.Expr, layout: FileLayout) -> pl.Expr:
    """A number with thousands separators, currency signs and a decimal mark of either kind.

    What is no number ("1:30", "two") is null, and `unreadable_number` says so.
    """
    text = plain_number(column, layout)
    return pl.when(text.str.contains(NUMBER)).then(text).cast(pl.Float64, strict=False)


def unreadable_number(columns: Sequence[str], layout: FileLayout) -> pl.Expr:
    """The first of the columns whose cell is no number, as "column: cell"; null where all are."""
    said = [
        pl.when(pl.col(c).is_not_null() & ~plain_number(c, layout).str.contains(NUMBER)).then(
            pl.concat_str(pl.lit(f"{c}: "), pl.col(c))
        )
        for c in columns
    ]
    return pl.coalesce([*said, pl.lit(None, pl.String)]).alias("unreadable")


THOUSANDS = r"^\D*\d{1,3}([.'’]\d{3})+\D*$"
"""Points between a distance's thousands, whatever the decimal mark: none has three decimals."""


def read_miles(column: str, layout: FileLayout) -> pl.Expr:
    """A distance in miles; a unit written in the cell goes before the layout's."""
    points = pl.col(column).str.replace_all(r"[.'’](\d{3})", "$1")
    plain = pl.when(pl.col(column).str.contains(THOUSANDS)).then(points).otherwise(column)
    number = read_number(plain, layout)
    unit = pl.col(column).str.to_lowercase().str.extract(r"(km|mi)", 1)
    in_km = unit.fill_null(layout.distance_unit) == "km"
    return pl.when(in_km).then(number * MILES_PER_KM).otherwise(number)


def read_money(column: str, layout: FileLayout, tax_rate: float) -> pl.Expr:
    """A price before tax."""
    price = read_number(column, layout)
    return price / (1 + tax_rate) if layout.prices == "gross" else price
