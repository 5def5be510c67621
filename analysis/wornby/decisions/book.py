"""The vehicles in the book, and how old each of their parts is now."""

from datetime import date

import polars as pl

from wornby.errors import EstimateError
from wornby.histories.counts import DAYS_PER_YEAR
from wornby.histories.distance import odometer_readings
from wornby.histories.fitments import Histories
from wornby.histories.observation import STARTS, rule_named
from wornby.records.reading import Records

LOST, ELSEWHERE = "lost from sight", "renewed elsewhere"
MONTHS_AHEAD = 12
FORMER_WEIGHT = 1.0
"""Vehicles by which a share is drawn towards all: few, for who stays away longest hardly comes."""
LEAST_YEARS = 0.5
"""A shorter history does not tell how far a vehicle goes in a year."""


def vehicles_in_the_book(records: Records) -> pl.DataFrame:
    """Vehicles that came within the months in which the workshop calls a vehicle its own.

    Columns: vehicle, version, age_years, odometer_mi (carried on from the last reading at the
    vehicle's own pace) and miles_per_year, both as of the close of records. A vehicle without
    readings has the median pace.
    """
    since = pl.lit(records.catalogue.records_until).dt.offset_by(
        f"-{records.catalogue.book_months}mo"
    )
    return _as_of_close(records, pl.col("last_visit") >= since)


def vehicle_of_records(records: Records, vehicle: str) -> pl.DataFrame:
    """One vehicle by its pseudonym, in the book or not, as `vehicles_in_the_book` has them."""
    found = _as_of_close(records, pl.col("vehicle") == vehicle)
    if found.is_empty():
        raise ValueError("no such vehicle in the records")
    return found


def _as_of_close(records: Records, wanted: pl.Expr) -> pl.DataFrame:
    """The wanted vehicles; the median pace is that of those among them, or else of all."""
    close = records.catalogue.records_until
    last = records.visits.group_by("vehicle").agg(last_visit=pl.col("date").max())
    pace = _pace(odometer_readings(records.readings, records.vehicles))
    book = (
        records.vehicles.join(last, on="vehicle")
        .filter(wanted)
        .join(pace, on="vehicle", how="left")
        .sort("vehicle")
    )
    age = _years(pl.lit(close) - pl.col("first_registered"))
    of_all = pl.lit(pace["miles_per_year"].median(), pl.Float64)
    per_year = pl.coalesce("miles_per_year", pl.col("miles_per_year").median(), of_all)
    return book.select(
        "vehicle",
        "version",
        age_years=age,
        odometer_mi=pl.col("last_mi").fill_null(0.0)
        + per_year
        * _years(pl.lit(close) - pl.col("last_on").fill_null(pl.col("first_registered"))),
        miles_per_year=per_year,
    )


def return_chances(records: Records, *, months_ahead: int = MONTHS_AHEAD) -> pl.DataFrame:
    """The chance that each vehicle in the book comes back when a part fails in the months ahead.

    Columns vehicle, return_chance. Judged by the book as it stood so many months and
    `book_months` before the close: of the vehicles then in it, the share that came at least once
    within `book_months` of a day of these months, averaged over them from the first day to the
    last (trapezoids). Vehicles that have
    stayed away longer come back less, so the share is taken by time since the last visit, in
    half years, and drawn towards the share of all (by `FORMER_WEIGHT` vehicles).
    """
    months = records.catalogue.book_months
    close = records.catalogue.records_until
    former = _last_visits(records, close, back=months + months_ahead)
    if former.is_empty():
        raise EstimateError(
            f"no vehicle came more than {months + months_ahead} months before the close of "
            "records: who comes back is unknown"
        )
    came = [
        former.join(
            _visits_between(records, close, back=months + months_ahead - u),
            on="vehicle",
            how="semi",
        ).with_columns(share=pl.lit((0.5 if u in (0, months_ahead) else 1.0) / months_ahead))
        for u in range(months_ahead + 1)
    ]
    back = pl.concat(came)
    everyone = float(back["share"].sum()) / former.height
    kept = back.group_by("half_years").agg(back=pl.col("share").sum())
    shares = (
        former.group_by("half_years")
        .len()
        .join(kept, on="half_years", how="left")
        .select(
            "half_years",
            return_chance=(pl.col("back").fill_null(0.0) + FORMER_WEIGHT * everyone)
            / (pl.col("len") + FORMER_WEIGHT),
        )
    )
    now = _last_visits(records, close, back=0).join(shares, on="half_years", how="left")
    return now.select("vehicle", pl.col("return_chance").fill_null(everyone)).sort("vehicle")


def _last_visits(records: Records, close: date, *, back: int) -> pl.DataFrame:
    """Vehicles in the book so many months before the close, with half years since they came."""
    as_of = pl.lit(close).dt.offset_by(f"-{back}mo")
    since = pl.lit(close).dt.offset_by(f"-{back + records.catalogue.book_months}mo")
    last = (
        records.visits.filter(pl.col("date") <= as_of)
        .group_by("vehicle")
        .agg(pl.col("date").max())
        .filter(pl.col("date") >= since)
    )
    away = (as_of - pl.col("date")).dt.total_days() / DAYS_PER_YEAR
    return last.select("vehicle", half_years=(2 * away).floor().cast(pl.Int32))


def _visits_between(records: Records, close: date, *, back: int) -> pl.DataFrame:
    """Vehicles that came within `book_months` after the day so many months before the close."""
    after = pl.lit(close).dt.offset_by(f"-{back}mo")
    until = pl.lit(close).dt.offset_by(f"-{back - records.catalogue.book_months}mo")
    came = records.visits.filter((pl.col("date") > after) & (pl.col("date") <= until))
    return came.select("vehicle").unique()


def parts_in_the_book(records: Records, made: Histories) -> pl.DataFrame:
    """Every part in service now in a vehicle of the book, with what is known of its age.

    Columns: vehicle, version, component, position, origin, grade, age_years, distance_mi,
    vehicle_age_years, first_seen_years (the vehicle's age at its first visit), miles_per_year,
    since_visit_years (from its last visit to the close of records).
    `origin` is unknown where no look told it and the observation rule does not take it as given;
    a part renewed elsewhere has origin renewed and, like one of unknown origin, no age: see
    `unknown_ages.with_ages`.
    """
    return parts_of(vehicles_in_the_book(records), records, made)


def parts_of(book: pl.DataFrame, records: Records, made: Histories) -> pl.DataFrame:
    """Every part in service now in these vehicles, as `parts_in_the_book` has them."""
    latest = made.fitments.sort("slot", "fitted_on").unique(
        "slot", keep="last", maintain_order=True
    )
    in_service = pl.col("ended_on").is_null() | pl.col("ending").is_in([LOST, ELSEWHERE])
    now = _with_the_lost_renewed(latest.filter(in_service).drop("version"))
    parts = now.join(book, on="vehicle", how="inner", maintain_order="left")
    elsewhere = pl.col("found_renewed_on").is_not_null() & (pl.col("origin") == "original")
    original_since = STARTS[rule_named(records.catalogue.observation_rule).starts]
    told = (pl.col("origin") == "renewed") | original_since.is_not_null()
    known = told & ~elsewhere
    fitted = _years(pl.lit(records.catalogue.records_until) - pl.col("fitted_on"))
    fitted_mi = pl.coalesce("fitted_mi", pl.col("odometer_mi") - fitted * pl.col("miles_per_year"))
    return parts.select(
        "vehicle",
        "version",
        "component",
        "position",
        origin=pl.when(known)
        .then("origin")
        .when(elsewhere)
        .then(pl.lit("renewed"))
        .otherwise(pl.lit("unknown")),
        grade=pl.when(known).then("grade").otherwise(pl.lit("unknown")),
        age_years=pl.when(known).then(fitted),
        distance_mi=pl.when(known).then((pl.col("odometer_mi") - fitted_mi).clip(lower_bound=0)),
        vehicle_age_years="age_years",
        first_seen_years=_years(pl.col("first_visit") - pl.col("first_registered")),
        miles_per_year="miles_per_year",
        since_visit_years=_years(pl.lit(records.catalogue.records_until) - pl.col("last_visit")),
    )


def _with_the_lost_renewed(parts: pl.DataFrame) -> pl.DataFrame:
    """Where one of several positions was renewed and no line says which, the first stands for it.

    Which one it was matters to nobody's count: one is new, the others are as they were.
    """
    lost = (pl.col("ending") == LOST).fill_null(False)
    first = pl.col("slot") == pl.col("slot").min().over("vehicle", "component")
    renewed = lost & first
    return parts.with_columns(
        origin=pl.when(renewed).then(pl.lit("renewed")).otherwise("origin"),
        grade=pl.when(renewed).then(pl.lit("unknown")).otherwise("grade"),
        fitted_on=pl.when(renewed).then("ended_on").otherwise("fitted_on"),
        fitted_mi=pl.when(~renewed).then("fitted_mi"),
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
