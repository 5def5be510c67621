"""The jobs as a faultless clerk would have written them, with what each line says."""

import numpy as np
import polars as pl

from wornby.demo.everyday import follow_on_lines, mention_lines, ordinary_lines
from wornby.demo.fleet import DAYS_PER_YEAR, day_number
from wornby.demo.items import VISIT, visit_items
from wornby.demo.line_shape import lines
from wornby.demo.parts import part_lines
from wornby.demo.phrases import in_any_case
from wornby.demo.places import World
from wornby.demo.repairs import complaint_lines, finding_lines, labour_lines
from wornby.demo.visits import Book


def job_table(book: Book, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """One row a visit: its job number, day, odometer; in order of day.

    The odometer is the van's steady rate with a small scatter, and never runs back.
    """
    visits = book.visits
    vehicle = visits["vehicle"].to_numpy()
    years = (visits["day"].to_numpy() - book.fleet.registered[vehicle]) / DAYS_PER_YEAR
    scatter = world.parameters.sd_reading_mi * rng.standard_normal(vehicle.size)
    shown = np.round(years * book.fleet.miles_per_year[vehicle] + scatter)
    jobs = visits.with_columns(odometer_mi=pl.Series(np.maximum(shown, 1)))
    jobs = jobs.with_columns(pl.col("odometer_mi").cum_max().over("vehicle")).sort("day", "vehicle")
    new = pl.col("day") >= day_number(world.parameters.new_system_from)
    number = new.cum_sum() + pl.when(new).then(0).otherwise(10_000 + pl.int_range(1, pl.len() + 1))
    number = number.cast(pl.String)
    return jobs.with_columns(
        new_system=new,
        job=pl.when(new).then("W" + number.str.zfill(5)).otherwise(number),
    )


def clean_lines(book: Book, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Every job line as meant, in the order of the jobs; `labels` holds what it says."""
    items = visit_items(book, world=world, rng=rng)
    told = pl.concat(
        [
            complaint_lines(items, rng),
            finding_lines(items, world=world, rng=rng),
            labour_lines(items, world=world, rng=rng),
            part_lines(items, world=world, rng=rng),
            follow_on_lines(items, world=world, rng=rng),
            ordinary_lines(book.visits, world=world, rng=rng),
            mention_lines(book.visits, items, world=world, rng=rng),
        ]
    )
    return in_any_case(pl.concat([told, lines_of_silent_jobs(book, told)]), rng)


def lines_of_silent_jobs(book: Book, told: pl.DataFrame) -> pl.DataFrame:
    """A visit of which nothing else was written still leaves a line."""
    silent = book.visits.join(told, on=VISIT, how="anti", maintain_order="left")
    text = pl.lit("looked over, nothing to report")
    return lines(silent.with_columns(text=text), rank=6, kind="other")
