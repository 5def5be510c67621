"""Numbers and dates as people and spreadsheets write them."""

from datetime import date

import polars as pl
import pytest

from wornby.records.layout import FileLayout
from wornby.records.values import read_date, read_miles, read_number, unreadable_number


def layout(**ways: str) -> FileLayout:
    """A layout that differs from the usual in the ways named."""
    return FileLayout(table="job_lines", path="jobs.csv", columns={}, **ways)  # type: ignore[arg-type]  # keywords of text


@pytest.mark.parametrize(
    ("cell", "mark", "number"),
    [
        ("1,234.50", ".", 1234.5),
        ("1.234,50", ",", 1234.5),
        ("£45.00", ".", 45.0),
        ("(45.00)", ".", -45.0),
        ("45.00-", ".", -45.0),
        ("-1", ".", -1.0),
        ("1.5 h", ".", 1.5),
        ("1:30", ".", None),
        ("two", ".", None),
        ("12.50.1", ".", None),
        ("1.2E+05", ".", None),
        ("90k", ".", None),
    ],
)
def test_a_cell_is_a_number_or_it_is_not(cell: str, mark: str, number: float | None) -> None:
    frame = pl.DataFrame({"price": [cell]})
    read = frame.select(read_number("price", layout(decimal_mark=mark))).item()
    assert read == number
    said = frame.select(unreadable_number(["price"], layout(decimal_mark=mark))).item()
    assert said == (None if number is not None else f"price: {cell}")


@pytest.mark.parametrize(
    ("cell", "order", "day"),
    [
        ("03/04/2015", "day first", date(2015, 4, 3)),
        ("03/04/2015", "month first", date(2015, 3, 4)),
        ("3.4.15", "day first", date(2015, 4, 3)),
        ("03 Apr 2015", "day first", date(2015, 4, 3)),
        ("2015-04-03", "day first", date(2015, 4, 3)),
        ("2015-04-03 10:30:00", "year first", date(2015, 4, 3)),
        ("42097", "day first", date(2015, 4, 3)),
        ("79-8", "year and month", date(1979, 8, 15)),
        ("98", "days since 2000-01-01", date(2000, 4, 8)),
        ("32/13/2015", "day first", None),
        ("00/00/0000", "day first", None),
        ("tbc", "year first", None),
    ],
)
def test_a_date_is_read_in_the_order_that_the_layout_names(
    cell: str, order: str, day: date | None
) -> None:
    frame = pl.DataFrame({"date": [cell]})
    assert frame.select(read_date("date", layout(dates=order))).to_series()[0] == day


def test_a_unit_in_the_cell_goes_before_the_layouts() -> None:
    cells = pl.DataFrame({"odometer": ["100 km", "100", "62 miles"]})
    in_km = cells.select(read_miles("odometer", layout(distance_unit="km"))).to_series()
    assert in_km.round(0).to_list() == [62.0, 62.0, 62.0]
