"""The world as a workshop's folder: each table as text, under the names of its own programs."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from wornby.demo.checks import inspection_rows
from wornby.demo.dirt import dirty_jobs, dirty_lines, named_dirt, with_thousands
from wornby.demo.items import VISIT
from wornby.demo.jobs import clean_lines, job_table
from wornby.demo.parameters import WorldParameters
from wornby.demo.places import World, merrow_world
from wornby.demo.plates import registrations
from wornby.demo.survey import population_table, survey_answers
from wornby.demo.truth import true_dirt, true_fitments, true_labels, true_lives
from wornby.demo.visits import Book, workshop_book

OLD_FILE, NEW_FILE = "job_lines_2013_2018.csv", "job_lines_2019_2024.csv"
OLD_KINDS = {"labour": "Lab", "part": "Prt", "consumable": "Con", "sublet": "Sub", "other": "Oth"}
SIDES = {"left": "N/S", "right": "O/S"}


@dataclass(frozen=True, eq=False, slots=True)
class Records:
    """The demo folder: `files` as a workshop has them, `truth` beside them, by file name."""

    files: dict[str, pl.DataFrame]
    truth: dict[str, pl.DataFrame]


def demo_records(parameters: WorldParameters, rng: np.random.Generator) -> Records:
    """Make the invented workshop's records and the truth behind them."""
    world = merrow_world(parameters)
    book = workshop_book(world, rng)
    registration = registrations(parameters.n_vehicles, rng)
    jobs = job_table(book, world=world, rng=rng)
    jobs = jobs.with_columns(registration=registration.gather(jobs["vehicle"]))
    written = dirty_jobs(jobs, world=world, rng=rng)
    lines = exported_lines(clean_lines(book, world=world, rng=rng), written, world=world, rng=rng)
    files = {
        "vehicles.csv": vehicle_list(book, registration, world=world, rng=rng),
        OLD_FILE: old_system(lines.filter(file=OLD_FILE), world),
        NEW_FILE: new_system(lines.filter(file=NEW_FILE)),
        "inspections.xlsx": inspection_sheet(book, written, world=world, rng=rng),
        "survey.csv": survey_answers(book, world=world, rng=rng),
        "population.csv": population_table(world=world, rng=rng),
    }
    truth = {
        "lives.csv": true_lives(world),
        "labels.csv": true_labels(lines),
        "fitments.csv": true_fitments(book, registration, world),
        "visits.csv": true_visits(jobs),
        "dirt.csv": true_dirt(lines),
    }
    return Records(files, truth)


def exported_lines(
    lines: pl.DataFrame, jobs: pl.DataFrame, *, world: World, rng: np.random.Generator
) -> pl.DataFrame:
    """The lines with their jobs' heads and dirt, in file order: `file` and its 1-based `row`."""
    jobs = jobs.with_row_index("sequence").with_columns(pl.col("sequence").cast(pl.Float64))
    heads = (
        *VISIT,
        "sequence",
        "job",
        "new_system",
        "date_text",
        "odometer_text",
        "registration_text",
        "dirt",
    )
    lines = lines.join(jobs.select(heads), on=VISIT, maintain_order="left").sort(
        "sequence", "rank", maintain_order=True
    )
    file = pl.when("new_system").then(pl.lit(NEW_FILE)).otherwise(pl.lit(OLD_FILE))
    lines = dirty_lines(lines, world=world, rng=rng).with_columns(file=file)
    return lines.with_columns(row=pl.int_range(2, pl.len() + 2).over("file"))


def plain(name: str) -> pl.Expr:
    """A number as typed: no decimals where there are none."""
    return pl.col(name).cast(pl.String).str.strip_suffix(".0")


def old_system(lines: pl.DataFrame, world: World) -> pl.DataFrame:
    """The export of the old system: prices with tax, thousands set apart, short kinds."""
    tax = 1 + world.catalogue["money"]["tax_rate"]
    money = (pl.col("price_net") * tax).round(2), pl.col("cost_net")
    gross, cost = (with_thousands(amount.cast(pl.String)) for amount in money)
    return lines.select(
        pl.col("job").alias("Invoice"),
        pl.col("date_text").alias("Inv date"),
        pl.col("registration_text").alias("Reg no"),
        pl.col("odometer_text").alias("Mileage"),
        pl.col("kind").replace_strict(OLD_KINDS, return_dtype=pl.String).alias("Type"),
        pl.col("text").alias("Description"),
        pl.col("part_number").alias("Part no"),
        plain("quantity").alias("Qty"),
        plain("labour_hours").alias("Hours"),
        gross.alias("Total inc VAT"),
        cost.alias("Cost ex VAT"),
    )


def new_system(lines: pl.DataFrame) -> pl.DataFrame:
    """The export of the new system: prices net, dates year first."""
    return lines.select(
        job_no="job",
        date="date_text",
        reg="registration_text",
        odometer="odometer_text",
        line_type="kind",
        description="text",
        part_number="part_number",
        qty=plain("quantity"),
        hours=plain("labour_hours"),
        net="price_net",
        cost="cost_net",
    )


def vehicle_list(
    book: Book, registration: pl.Series, *, world: World, rng: np.random.Generator
) -> pl.DataFrame:
    """The vans in the book; some without the day of first registration."""
    rate = world.parameters.dirt.first_registered_missing_vehicles
    missing = named_dirt({"missing": rate}, registration.len(), rng) != ""
    day = pl.Series(book.fleet.registered).cast(pl.Int32).cast(pl.Date).dt.strftime("%d/%m/%Y")
    versions = np.array(list(world.parameters.version_shares))[book.fleet.version]
    return pl.DataFrame({"Registration": registration, "Body": versions, "day": day}).select(
        "Registration", "Body", pl.when(~missing).then("day").alias("First registered")
    )


def inspection_sheet(
    book: Book, jobs: pl.DataFrame, *, world: World, rng: np.random.Generator
) -> pl.DataFrame:
    """The sheet "Intake and service checks"; its heads are those of the jobs of the day."""
    heads = jobs.select(*VISIT, "registration_text", "shown_mi", "dirt")
    rows = inspection_rows(book, world=world, rng=rng)
    rows = rows.join(heads, on=VISIT, maintain_order="left")
    rows = rows.join(world.places.table(), on="place", maintain_order="left")
    blank = pl.col("dirt").list.contains("odometer blank")
    return rows.select(
        pl.col("registration_text").alias("Reg"),
        pl.col("day").cast(pl.Int32).cast(pl.Date).alias("Date"),
        pl.when(~blank).then(pl.col("shown_mi").cast(pl.Int64)).alias("Miles"),
        pl.col("component").alias("Item"),
        pl.col("position")
        .replace_strict(SIDES, default=None, return_dtype=pl.String)
        .alias("Side"),
        pl.col("condition").alias("Condition"),
        pl.col("origin").alias("Original part?"),
    )


def true_visits(jobs: pl.DataFrame) -> pl.DataFrame:
    """Every visit with its true day and distance."""
    return jobs.select(
        "job",
        "registration",
        date=pl.col("day").cast(pl.Int32).cast(pl.Date),
        odometer_mi="odometer_mi",
        loyal="loyal",
    )
