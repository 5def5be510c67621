"""Failures and car-years by model year and calendar year: what a population is counted by.

A cell is one model year, version and calendar year. The model year of a vehicle in the records
is the year in which it was first registered; one sold from stock in the next year counts a
year too young.
"""

from dataclasses import dataclass

import polars as pl

from wornby.histories.counts import DAYS_PER_YEAR
from wornby.histories.recurring import FOR_CAUSE
from wornby.records.reading import Records

CELL = ("model_year", "version", "calendar_year")


@dataclass(frozen=True, eq=False, slots=True)
class PopulationView:
    """Failures and car-years of each component and cell, on the road and in the book.

    `cells` has a row for each component and each cell of the population within the calendar
    years of the records: failures (all that the records tell), on_the_road (car-years, vehicles
    counted once a year), watched_failures (after the vehicle's first visit), watched (car-years
    of the book's vehicles from first to last visit). `outside` has the failures of each
    component in no cell of the population, `first_visit` those that brought the vehicle in.
    """

    cells: pl.DataFrame
    outside: pl.DataFrame
    first_visit: pl.DataFrame


def population_view(records: Records, population: pl.DataFrame) -> PopulationView:
    """What the records and the vehicles on the road together say, cell by cell.

    A failure is a renewal for cause, one for each position. `population` has model_year,
    version, calendar_year and on_the_road (`tables.POPULATION`).
    """
    failures = failures_told(records)
    years = watched_years(records)
    seen = years["calendar_year"].unique().implode()
    road = _road(population).filter(pl.col("calendar_year").is_in(seen))
    components = pl.DataFrame({"component": list(records.catalogue.components)})
    by_cell = failures.group_by("component", *CELL).agg(
        failures=pl.len(), watched_failures=(~pl.col("first_visit")).sum()
    )
    cells = (
        components.join(road, how="cross")
        .join(years, on=CELL, how="left")
        .join(by_cell, on=["component", *CELL], how="left")
        .with_columns(pl.col("watched", "failures", "watched_failures").fill_null(0))
    )
    return PopulationView(
        cells=cells,
        outside=_by_component(failures.join(road, on=CELL, how="anti")),
        first_visit=_by_component(failures.filter("first_visit")),
    )


def failures_told(records: Records) -> pl.DataFrame:
    """Every renewal for cause: component, its cell, vehicle, date, and whether the first visit."""
    causes = records.sightings.filter(
        (pl.col("seen") == "renewed") & pl.col("reason").is_in(FOR_CAUSE)
    )
    first = records.visits.group_by("vehicle").agg(first=pl.col("date").min())
    return (
        causes.join(_vehicles(records), on="vehicle")
        .join(first, on="vehicle", how="left")
        .select(
            "component",
            "model_year",
            "version",
            "vehicle",
            "date",
            calendar_year=pl.col("date").dt.year(),
            first_visit=pl.col("date") <= pl.col("first"),
        )
    )


def watched_years(records: Records) -> pl.DataFrame:
    """Car-years of the book's vehicles by cell: each from its first visit to its last."""
    seen = records.visits.group_by("vehicle").agg(
        first=pl.col("date").min(), last=pl.col("date").max()
    )
    spans = seen.with_columns(
        calendar_year=pl.int_ranges(pl.col("first").dt.year(), pl.col("last").dt.year() + 1)
    ).explode("calendar_year", empty_as_null=True, keep_nulls=True)
    year = pl.col("calendar_year").cast(pl.Int32)
    since = pl.max_horizontal("first", pl.date(year, 1, 1))
    until = pl.min_horizontal("last", pl.date(year + 1, 1, 1))
    return (
        spans.with_columns(years=(until - since).dt.total_days() / DAYS_PER_YEAR)
        .join(_vehicles(records), on="vehicle")
        .with_columns(calendar_year=year)
        .group_by(CELL)
        .agg(watched=pl.col("years").sum())
    )


def _vehicles(records: Records) -> pl.DataFrame:
    return records.vehicles.select(
        "vehicle",
        model_year=pl.col("first_registered").dt.year(),
        version=pl.col("version").str.to_lowercase().fill_null("unknown"),
    )


def _road(population: pl.DataFrame) -> pl.DataFrame:
    """Car-years on the road by cell, typed as the records are."""
    whole = [pl.col(name).cast(pl.Int32) for name in ("model_year", "calendar_year")]
    typed = population.with_columns(*whole, pl.col("version").str.to_lowercase())
    return typed.group_by(CELL).agg(pl.col("on_the_road").cast(pl.Float64).sum()).sort(CELL)


def _by_component(failures: pl.DataFrame) -> pl.DataFrame:
    return failures.group_by("component").agg(failures=pl.len()).sort("component")
