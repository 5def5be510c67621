"""What really was: for tests only, never for an estimate."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.demo.fleet import DAYS_PER_YEAR, new_fleet, renewed_life
from wornby.demo.places import World
from wornby.demo.visits import Book


def true_lives(world: World) -> pl.DataFrame:
    """The Weibull behind every component, original and renewed by grade."""
    scales = dict(zip(world.places.names, world.places.by_distance.tolist(), strict=True))
    rows = []
    for name, life in world.parameters.lives.items():
        scale = "distance" if scales[name] else "age"
        rows.append((name, "original", "genuine", scale, life.shape, life.scale_value))
        for grade, worth in world.parameters.grades.items():
            rows.append((name, "renewed", grade, scale, *renewed_life(life, worth)))
    schema = ["component", "origin", "grade", "scale", "shape", "scale_value"]
    return pl.DataFrame(rows, schema=schema, orient="row")


def true_fitments(book: Book, registration: pl.Series, world: World) -> pl.DataFrame:
    """Every part that ever sat in a place: when fitted, how long it could last, how it ended."""
    grades = dict(enumerate(world.parameters.grades))
    return (
        book.fitments.join(world.places.table(), on="place", maintain_order="left")
        .with_columns(registration=registration.gather(book.fitments["vehicle"]))
        .select(
            "registration",
            "component",
            "position",
            fitted_on=pl.col("fitted").cast(pl.Int32).cast(pl.Date),
            original="original",
            grade=pl.col("grade").replace_strict(grades, return_dtype=pl.String),
            life=pl.col("life").round(4),
            ended_on=pl.col("ended").cast(pl.Int32).cast(pl.Date),
            how="how",
        )
    )


def true_labels(rows: pl.DataFrame) -> pl.DataFrame:
    """What each job line says: one row for each component and position that it names."""
    named = rows.filter(pl.col("labels").list.len() > 0)
    return (
        named.select("file", "row", "labels").explode("labels", empty_as_null=True).unnest("labels")
    )


def true_dirt(rows: pl.DataFrame) -> pl.DataFrame:
    """What is wrong with each job line, by name."""
    dirty = rows.filter(pl.col("dirt").list.len() > 0)
    return dirty.select("file", "row", "dirt").explode("dirt", empty_as_null=True)


def lives_from_new(world: World, n_vehicles: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """How long each original of new vans lasts, in years or miles: vans by row, places by column.

    Each on the scale that the catalogue counts its component in, all vans mixed as they differ in
    frailty and in miles a year: the truth that a curve of the component can at best recover.
    """
    fleet = new_fleet(n_vehicles, world=world, rng=rng)
    years = (fleet.fails - fleet.registered[:, None]) / DAYS_PER_YEAR
    miles = years * fleet.miles_per_year[:, None]
    return np.where(world.places.by_distance, miles, years)
