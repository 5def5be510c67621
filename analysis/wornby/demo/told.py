"""What the records stage would take from a clerk who never slips, without writing it down.

For studies that need thousands of workshops: the same facts as the written records of
`demo_records` without dirt, by the same habits, but not the same random numbers.
"""

from dataclasses import dataclass

import numpy as np
import polars as pl

from wornby.demo.checks import inspection_rows
from wornby.demo.everyday import ORDINARY, mentioned, named_in_line
from wornby.demo.fleet import happens
from wornby.demo.items import VISIT, visit_items
from wornby.demo.jobs import job_table
from wornby.demo.places import World
from wornby.demo.visits import Book
from wornby.tables import READINGS, SIGHTINGS, VEHICLES

SERVICE_WRITTEN: float = ORDINARY[0]["chance"]
"""The share of services that a line calls one; it is the first of the ordinary work."""
ADVICE_WRITTEN = 0.5
"""The share of advisories that a job line tells, as in `repairs.finding_lines`."""
GRADE_NOT_SAID = 0.66
"""Of parts fitted without a number, those whose grade no line says: 0.70 of part lines and 0.95
of labour lines say none, as in `parts.part_lines` and `repairs.labour_lines`."""
CONDITION = {"OK": "sound", "Advisory": "degraded", "Fail": "failed"}
ORIGIN = {"Yes": "original", "No": "renewed"}
HERE = ("vehicle", "date", "odometer_mi", "job")
WHAT = ("component", "position", "seen", "reason", "grade", "origin", "quantity")


@dataclass(frozen=True, eq=False, slots=True)
class Told:
    """The tables of the records stage that lives are made from, shaped as `wornby.tables` says.

    `visits` has vehicle, date and routine. Vehicles are called by their row in the fleet.
    """

    vehicles: pl.DataFrame
    sightings: pl.DataFrame
    visits: pl.DataFrame
    readings: pl.DataFrame


def told_book(book: Book, *, world: World, rng: np.random.Generator) -> Told:
    """The facts of a workshop's jobs and inspections as a faultless reader takes them."""
    jobs = job_table(book, world=world, rng=rng)
    routine = pl.Series(rng.random(jobs.height) < SERVICE_WRITTEN) & jobs["service"]
    date = pl.col("day").cast(pl.Int32).cast(pl.Date)
    heads = jobs.select(*VISIT, "odometer_mi", "job", date=date, routine=routine)
    seen = [
        job_sightings(book, world=world, rng=rng).join(heads, on=VISIT, maintain_order="left"),
        look_sightings(book, world=world, rng=rng)
        .join(heads, on=VISIT, maintain_order="left")
        .with_columns(job=pl.lit(None, pl.String)),
    ]
    sightings = pl.concat(frame.select(*HERE, *WHAT) for frame in seen)
    return Told(
        vehicles=VEHICLES.shape(vehicle_rows(book, world)),
        sightings=SIGHTINGS.shape(with_name(sightings)),
        visits=with_name(heads.select("vehicle", "date", "routine").sort("vehicle", "date")),
        readings=READINGS.shape(with_name(heads)),
    )


def with_name(frame: pl.DataFrame) -> pl.DataFrame:
    """Call each vehicle by its row, as text that sorts alike."""
    return frame.with_columns(vehicle=pl.col("vehicle").cast(pl.String).str.zfill(6))


def vehicle_rows(book: Book, world: World) -> pl.DataFrame:
    """The vans in the book, with their version and first registration."""
    versions = np.array(list(world.parameters.version_shares))
    fleet = book.fleet
    rows = pl.DataFrame({"version": versions[fleet.version], "day": fleet.registered})
    return with_name(
        rows.select(
            "version",
            vehicle=pl.int_range(pl.len()),
            first_registered=pl.col("day").cast(pl.Int32).cast(pl.Date),
        )
    )


def job_sightings(book: Book, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """What the job lines say of each place: renewed, advised as worn, or sound."""
    items = visit_items(book, world=world, rng=rng)
    sound = named_in_line(mentioned(book.visits, items, rng)).filter(pl.col("by") != "nothing")
    unsaid = pl.Series(rng.random(items.height) < ADVICE_WRITTEN)
    nameless = happens(GRADE_NOT_SAID * world.parameters.part_number_missing, items.height, rng)
    advised = pl.col("cause") == "advisory"
    told = items.with_columns(nameless=pl.Series(nameless)).filter(~(advised & unsaid))
    done = told.explode("positions", empty_as_null=True, keep_nulls=True).select(
        *VISIT,
        "component",
        position="positions",
        seen=pl.when(advised).then(pl.lit("degraded")).otherwise(pl.lit("renewed")),
        reason=pl.when(advised).then(pl.lit("degraded finding")).otherwise("reason"),
        grade=pl.when(advised | pl.col("nameless")).then(pl.lit("unknown")).otherwise("grade"),
        quantity=pl.col("n").cast(pl.Float64),
    )
    unplaced = sound.select(
        *VISIT,
        "component",
        position=pl.lit(None, pl.String),
        seen=pl.lit("sound"),
        reason=pl.lit("unknown"),
        grade=pl.lit("unknown"),
        quantity=pl.lit(None, pl.Float64),
    )
    rows = pl.concat([done, unplaced]).with_columns(origin=pl.lit("unknown"))
    return rows.with_columns(position=only_place(world))


def only_place(world: World) -> pl.Expr:
    """The position, empty where the component has one place only: no line needs to say it."""
    of = zip(world.places.names, world.places.positions, strict=True)
    single = [name for name, position in of if position is None]
    alone = pl.col("component").is_in(single)
    return pl.when(alone).then(pl.lit("")).otherwise("position")


def look_sightings(book: Book, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """What the inspections say of each place, and whether an original part was found there."""
    looks = inspection_rows(book, world=world, rng=rng)
    rows = looks.join(world.places.table(), on="place", maintain_order="left")
    return rows.select(
        *VISIT,
        "component",
        position=only_place(world),
        seen=pl.col("condition").replace_strict(CONDITION, return_dtype=pl.String),
        reason=pl.lit("unknown"),
        grade=pl.lit("unknown"),
        origin=pl.col("origin").replace_strict(ORIGIN, default="unknown", return_dtype=pl.String),
        quantity=pl.lit(None, pl.Float64),
    )
