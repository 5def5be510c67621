"""The vehicles in the book, and how old each of their parts is now."""

import polars as pl

from wornby.errors import EstimateError
from wornby.histories.counts import DAYS_PER_YEAR
from wornby.histories.distance import odometer_readings
from wornby.histories.fitments import Histories
from wornby.records.reading import Records

LEAST_YEARS = 0.5
"""A shorter history does not tell how far a vehicle goes in a year."""


def vehicles_in_the_book(records: Records) -> pl.DataFrame:
    """Vehicles that came within the months in which the workshop calls a vehicle its own.

    Columns: vehicle, version, age_years, odometer_mi (carried on from the last reading at the
    vehicle's own pace) and miles_per_year, both as of the close of records. A vehicle without
    readings has the median pace.
    """
    close = records.catalogue.records_until
    since = pl.lit(close).dt.offset_by(f"-{records.catalogue.book_months}mo")
    last = records.visits.group_by("vehicle").agg(last_visit=pl.col("date").max())
    pace = _pace(odometer_readings(records.readings, records.vehicles))
    book = (
        records.vehicles.join(last, on="vehicle")
        .filter(pl.col("last_visit") >= since)
        .join(pace, on="vehicle", how="left")
        .sort("vehicle")
    )
    age = _years(pl.lit(close) - pl.col("first_registered"))
    per_year = pl.col("miles_per_year").fill_null(pl.col("miles_per_year").median())
    return book.select(
        "vehicle",
        "version",
        age_years=age,
        odometer_mi=pl.col("last_mi").fill_null(0.0)
        + per_year
        * _years(pl.lit(close) - pl.col("last_on").fill_null(pl.col("first_registered"))),
        miles_per_year=per_year,
    )


def return_chance(records: Records) -> float:
    """The share of vehicles that came back, of those that came in the year before the last.

    Judged over as many months as a vehicle stays in the book without coming.
    """
    catalogue = records.catalogue
    close = pl.lit(catalogue.records_until)
    months = catalogue.book_months
    recent, before = (close.dt.offset_by(f"-{m}mo") for m in (months, months + 12))
    came = records.visits.filter((pl.col("date") > before) & (pl.col("date") <= recent))
    since = records.visits.filter(pl.col("date") > recent)
    vehicles = came.select("vehicle").unique()
    if vehicles.is_empty():
        raise EstimateError("no vehicle came in the year before the last: who returns is unknown")
    return vehicles.join(since, on="vehicle", how="semi").height / vehicles.height


def parts_in_the_book(records: Records, made: Histories) -> pl.DataFrame:
    """Every part in service now in a vehicle of the book, with what is known of its age.

    Columns: vehicle, version, component, position, origin, grade, age_years, distance_mi,
    miles_per_year. Parts that may have been renewed elsewhere before the vehicle first came
    have no age: null.
    """
    book = vehicles_in_the_book(records)
    now = made.fitments.filter(pl.col("ended_on").is_null()).drop("version")
    parts = now.join(book, on="vehicle", how="inner", maintain_order="left")
    known = (pl.col("origin") == "renewed") | pl.col("known_original_on").is_not_null()
    fitted = _years(pl.lit(records.catalogue.records_until) - pl.col("fitted_on"))
    fitted_mi = pl.coalesce("fitted_mi", pl.col("odometer_mi") - fitted * pl.col("miles_per_year"))
    return parts.select(
        "vehicle",
        "version",
        "component",
        "position",
        pl.when(known).then("origin").otherwise(pl.lit("unknown")).alias("origin"),
        "grade",
        age_years=pl.when(known).then(fitted),
        distance_mi=pl.when(known).then((pl.col("odometer_mi") - fitted_mi).clip(lower_bound=0)),
        miles_per_year="miles_per_year",
    )


def _pace(readings: pl.DataFrame) -> pl.DataFrame:
    """Each vehicle's last reading and its miles a year since new."""
    spans = (
        readings.sort("date")
        .group_by("vehicle")
        .agg(
            last_on=pl.col("date").last(),
            last_mi=pl.col("odometer_mi").last(),
            years=_years(pl.col("date").last() - pl.col("date").first()),
        )
    )
    return spans.filter(pl.col("years") >= LEAST_YEARS).select(
        "vehicle", "last_on", "last_mi", miles_per_year=pl.col("last_mi") / pl.col("years")
    )


def _years(span: pl.Expr) -> pl.Expr:
    return span.dt.total_days() / DAYS_PER_YEAR
