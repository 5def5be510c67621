"""From text to dates, numbers and distances; what cannot be read stays null."""

import polars as pl

from wornby.records.layout import FileLayout

MILES_PER_KM = 1 / 1.609344
EARLIEST_YEAR = 1950

DAY_FIRST = ("%d/%m/%Y", "%d-%m-%Y", "%d.%m.%Y", "%d/%m/%y", "%d-%m-%y", "%d.%m.%y")
MONTH_FIRST = ("%m/%d/%Y", "%m-%d-%Y", "%m.%d.%Y", "%m/%d/%y", "%m-%d-%y", "%m.%d.%y")
WRITTEN_OUT = ("%d %b %Y", "%d-%b-%Y", "%d %B %Y", "%d-%b-%y", "%b %d, %Y")
YEAR_FIRST = ("%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%Y%m%d")
FORMATS = {
    "day first": (*DAY_FIRST, "%Y-%m-%d", *WRITTEN_OUT),
    "month first": (*MONTH_FIRST, "%Y-%m-%d", *WRITTEN_OUT),
    "year first": (*YEAR_FIRST, *WRITTEN_OUT),
    "year and month": ("%Y-%m-%d", "%y-%m-%d"),
}
"""Formats tried in turn under each order of dates; an ISO date is never ambiguous."""


def read_date(column: str, layout: FileLayout) -> pl.Expr:
    """A date under the layout's order; "year and month" stands for the middle of the month."""
    text = pl.col(column).str.replace(r"[ T]\d{1,2}:\d{2}.*$", "")
    if layout.dates.startswith("days since "):
        day_zero = pl.lit(layout.dates.removeprefix("days since ")).str.to_date("%Y-%m-%d")
        return day_zero + pl.duration(days=text.cast(pl.Float64, strict=False).cast(pl.Int64))
    if layout.dates == "year and month":
        text = text + pl.lit("-15")
    readings = [_within_reason(text.str.to_date(f, strict=False)) for f in FORMATS[layout.dates]]
    return pl.coalesce(readings)


def _within_reason(date: pl.Expr) -> pl.Expr:
    return pl.when(date.dt.year() >= EARLIEST_YEAR).then(date)


def read_number(column: str, layout: FileLayout) -> pl.Expr:
    """A number with thousands separators, currency signs and a decimal mark of either kind."""
    text = pl.col(column).str.replace_all(r"[^\d.,\-]", "")
    if layout.decimal_mark == ",":
        text = text.str.replace_all(".", "", literal=True).str.replace(",", ".", literal=True)
    else:
        text = text.str.replace_all(",", "", literal=True)
    return text.cast(pl.Float64, strict=False)


def read_miles(column: str, layout: FileLayout) -> pl.Expr:
    """A distance in miles; a unit written in the cell goes before the layout's."""
    number = read_number(column, layout)
    unit = pl.col(column).str.to_lowercase().str.extract(r"(km|mi)", 1)
    in_km = unit.fill_null(layout.distance_unit) == "km"
    return pl.when(in_km).then(number * MILES_PER_KM).otherwise(number)


def read_money(column: str, layout: FileLayout, tax_rate: float) -> pl.Expr:
    """A price before tax."""
    price = read_number(column, layout)
    return price / (1 + tax_rate) if layout.prices == "gross" else price
