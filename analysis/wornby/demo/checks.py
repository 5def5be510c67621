"""Inspections: the look at everything when a van first comes, and a few checks at services."""

import numpy as np
import polars as pl

from wornby.demo.items import VISIT
from wornby.demo.places import World
from wornby.demo.visits import Book

CONDITION = {"failure": "Fail", "degraded": "Advisory", "found": "Advisory", "advisory": "Advisory"}


def inspection_rows(book: Book, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """vehicle, day, place, condition, origin: intake of most vans, then checks at services."""
    rows = pl.concat(
        [intake(book, world=world, rng=rng), service_checks(book, world=world, rng=rng)]
    )
    rows = rows.sort("day", "vehicle", "place")
    found = found_in_place(book, rows)
    return rows.with_columns(origin=origin_by_eye(found, world=world, rng=rng))


def intake(book: Book, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Every place of a van at its first visit, as it was before anything was renewed."""
    first = book.visits.filter("first").select(*VISIT)
    looked = pl.Series(rng.random(first.height) < world.parameters.intake_inspection)
    places = pl.DataFrame({"place": np.arange(len(world.places.names))})
    rows = first.filter(looked).join(places, how="cross", maintain_order="left_right")
    known = book.outcomes.select(*VISIT, "place", "cause")
    rows = rows.join(known, on=[*VISIT, "place"], how="left", maintain_order="left")
    condition = pl.col("cause").replace_strict(CONDITION, default="OK", return_dtype=pl.String)
    return rows.select(*VISIT, "place", condition=condition.fill_null("OK"), intake=pl.lit(True))


def service_checks(book: Book, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """A few places at each later service found in order, and every advisory given."""
    later = book.visits.filter(pl.col("service"), ~pl.col("first")).select(*VISIT)
    chance = rng.random((later.height, len(world.places.names)))
    row, place = np.nonzero(chance < world.parameters.checks_per_place_at_service)
    looked = later[row].with_columns(place=pl.Series(place))
    fine = looked.join(book.outcomes, on=[*VISIT, "place"], how="anti", maintain_order="left")
    not_first = book.visits.filter(~pl.col("first")).select(*VISIT)
    worn = book.outcomes.filter(pl.col("cause").is_in(["advisory", "degraded"]))
    written = (pl.col("cause") == "advisory") | pl.Series(rng.random(worn.height) < 0.5)
    worn = worn.filter(written).join(not_first, on=VISIT, how="semi", maintain_order="left")
    return pl.concat(
        rows.select(*VISIT, "place", condition=pl.lit(condition), intake=pl.lit(False))
        for rows, condition in ((fine, "OK"), (worn, "Advisory"))
    )


def found_in_place(book: Book, rows: pl.DataFrame) -> pl.DataFrame:
    """The rows with `original`: whether the part found, not the one fitted that day, was one."""
    fitted = book.fitments.select("vehicle", "place", "original", before=pl.col("fitted") + 1)
    return (
        rows.with_row_index("row")
        .sort("day")
        .join_asof(
            fitted.sort("before"),
            left_on="day",
            right_on="before",
            by=["vehicle", "place"],
            strategy="backward",
            check_sortedness=False,
        )
        .sort("row")
    )


def origin_by_eye(found: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.Series:
    """Yes, No or Can't tell; nothing renewed is ever called original. Mostly empty at services."""
    parameters = world.parameters
    u = pl.Series(rng.random(found.height))
    written = pl.col("intake") | pl.Series(rng.random(found.height) < 0.3)
    right = (
        pl.when("original")
        .then(parameters.original_seen_as_original)
        .otherwise(parameters.renewed_seen_as_renewed)
    )
    said = pl.when("original").then(pl.lit("Yes")).otherwise(pl.lit("No"))
    judged = pl.when(u < right).then(said).otherwise(pl.lit("Can't tell"))
    return found.select(origin=pl.when(written).then(judged))["origin"]
