"""Read a folder of records: every row accepted, set aside or rejected, with its reason."""

from dataclasses import dataclass
from pathlib import Path

import polars as pl

from wornby.errors import RecordError
from wornby.ledger import Ledger, ledger_from
from wornby.records.catalogue import Catalogue
from wornby.records.catalogue_file import read_catalogue
from wornby.records.classify import mentions, sightings_of_jobs
from wornby.records.job_numbers import named_unnumbered, with_job_numbers
from wornby.records.judging import (
    VEHICLE_UNKNOWN,
    inspection_rules,
    job_line_rules,
    judge,
    reading_rules,
    vehicle_rules,
)
from wornby.records.layout import FileLayout, read_layout
from wornby.records.odometer import clean_readings
from wornby.records.parsing import load_table
from wornby.records.privacy import pseudonyms
from wornby.records.repeats import (
    SAME_INSPECTION,
    SAME_JOB_LINE,
    SAME_VEHICLE,
    mark_credited,
    mark_repeated,
)
from wornby.records.unplaced import unplaced_texts
from wornby.records.wording import words_pattern
from wornby.tables import LINES, READINGS, SIGHTINGS, VEHICLES

COSTS_ONLY = [rule.reason for rule in VEHICLE_UNKNOWN]
NAMED_IN_PROBLEMS = (
    "vehicle", "text", "quantity", "component", "condition", "position", "kind", "unreadable",
    "odometer_mi",
)  # fmt: skip
PROBLEMS = ("file", "row", "fate", "reason", "column", "value", "mend")


@dataclass(frozen=True, eq=False, slots=True)
class Records:
    """What a folder holds: tables for the next stage, and where every row went.

    `lines` serve for costs, `sightings` for lives. `readings` are clean odometer readings,
    `visits` the days on which a vehicle was seen, and whether in the routine. `problems` lists
    each row not accepted; `mentions` and `unplaced` show how job text was understood. These last
    three hold the workshop's own words and stay on this side of the door.
    """

    catalogue: Catalogue
    vehicles: pl.DataFrame
    lines: pl.DataFrame
    sightings: pl.DataFrame
    visits: pl.DataFrame
    readings: pl.DataFrame
    problems: pl.DataFrame
    mentions: pl.DataFrame
    unplaced: pl.DataFrame
    ledgers: tuple[Ledger, ...]


def read_records(folder: Path) -> Records:
    """Read a workshop's folder by its layout.toml and workshop.toml."""
    catalogue = read_catalogue(folder / "workshop.toml")
    tables = _judged_tables(folder, read_layout(folder / "layout.toml"), catalogue)
    jobs = _accepted(tables["job lines"])
    mentioned = mentions(jobs, catalogue)
    sightings = pl.concat(
        [
            SIGHTINGS.shape(sightings_of_jobs(mentioned)),
            SIGHTINGS.shape(_sightings_of_looks(_accepted(tables["inspections"]), catalogue)),
        ]
    )
    seen = [_accepted(tables[name]) for name in ("job lines", "inspections", "odometer readings")]
    shown = pl.concat(frame.select("vehicle", "date", "odometer_mi") for frame in seen)
    readings, odometers = clean_readings(
        shown,
        _accepted(tables["vehicles"]).select("vehicle", first_registered="date"),
        tolerance_mi=catalogue.odometer_tolerance_mi,
    )
    names = pseudonyms(tables["vehicles"]["vehicle"], key=catalogue.pseudonym_key)
    return Records(
        catalogue=catalogue,
        vehicles=VEHICLES.shape(
            _renamed(_accepted(tables["vehicles"]).rename({"date": "first_registered"}), names)
        ),
        lines=LINES.shape(_renamed(_lines(tables["job lines"], mentioned, catalogue), names)),
        sightings=_renamed(_trusted_odometers(sightings, readings), names),
        visits=_renamed(_visits(jobs, seen[1], catalogue), names),
        readings=READINGS.shape(_renamed(readings, names)),
        problems=pl.concat(_problems(frame) for frame in tables.values()),
        mentions=mentioned,
        unplaced=unplaced_texts(jobs, mentioned, catalogue),
        ledgers=(
            *(ledger_from(n, frame) for n, frame in tables.items() if frame.height),
            odometers,
        ),
    )


def _judged_tables(
    folder: Path, layouts: tuple[FileLayout, ...], catalogue: Catalogue
) -> dict[str, pl.DataFrame]:
    """Each table with the fate of each of its rows."""

    def load(name: str) -> pl.DataFrame:
        return load_table(folder, layouts, catalogue, name)

    if all(layout.table != "vehicles" for layout in layouts):
        raise RecordError("layout.toml: no [[file]] with table = 'vehicles'; ages need one")
    spelled = mark_repeated(load("vehicles"), SAME_VEHICLE)
    first = spelled.filter(~pl.col("repeated"))
    doubled = first.filter(pl.col("vehicle").is_duplicated())["vehicle"].drop_nulls().unique()
    vehicles = judge(
        spelled.with_columns(ambiguous=pl.col("vehicle").is_in(doubled.implode())),
        vehicle_rules(catalogue),
    )
    lines = load("job_lines")
    _need_rows({"vehicles": spelled, "job_lines": lines}, layouts)
    jobs = with_job_numbers(mark_credited(mark_repeated(lines, SAME_JOB_LINE)))
    looks = mark_repeated(load("inspections"), SAME_INSPECTION)
    return {
        "vehicles": vehicles,
        "job lines": named_unnumbered(judge(_with_age(jobs, vehicles), job_line_rules(catalogue))),
        "inspections": judge(_with_age(looks, vehicles), inspection_rules(catalogue)),
        "odometer readings": judge(_with_age(load("readings"), vehicles), reading_rules(catalogue)),
    }


def _need_rows(tables: dict[str, pl.DataFrame], layouts: tuple[FileLayout, ...]) -> None:
    """Refuse a table that lives cannot do without and that is still blank."""
    for name, frame in tables.items():
        paths = ", ".join(layout.path for layout in layouts if layout.table == name)
        if paths and frame.is_empty():
            raise RecordError(f"{paths}: has a header but no rows; fill it, or export it again")


def _with_age(frame: pl.DataFrame, vehicles: pl.DataFrame) -> pl.DataFrame:
    """Say of each row whether its vehicle is known, and since when it is registered."""
    accepted = _accepted(vehicles).select("vehicle", first_registered="date")
    listed = vehicles["vehicle"].drop_nulls().unique()
    aged = frame.join(accepted, on="vehicle", how="left", maintain_order="left")
    return aged.with_columns(known=pl.col("vehicle").is_in(listed.implode()).fill_null(False))


def _accepted(judged: pl.DataFrame) -> pl.DataFrame:
    return judged.filter(pl.col("fate") == "accepted")


def _sightings_of_looks(looks: pl.DataFrame, catalogue: Catalogue) -> pl.DataFrame:
    """Inspections as sightings; one that names no side speaks of every place."""
    places = {name: list(c.positions or ("",)) for name, c in catalogue.components.items()}
    every = pl.col("component").replace_strict(places, return_dtype=pl.List(pl.String))
    said = pl.concat_list("position")
    one_place = every.list.first() == ""
    return looks.with_columns(
        position=pl.when(pl.col("position").is_null() | one_place).then(every).otherwise(said),
        job=pl.lit(None, pl.String),
        seen=pl.col("condition"),
        reason=pl.lit("unknown"),
        grade=pl.lit("unknown"),
        quantity=pl.lit(None, pl.Float64),
    ).explode("position", empty_as_null=True, keep_nulls=True)


def _visits(jobs: pl.DataFrame, looks: pl.DataFrame, catalogue: Catalogue) -> pl.DataFrame:
    """Each day on which a vehicle was seen; `routine` where a line says that it came for that."""
    text = pl.col("text").fill_null("").str.to_lowercase()
    routine = text.str.contains(words_pattern(catalogue.words.routine))
    days = [
        jobs.select("vehicle", "date", routine=routine),
        looks.select("vehicle", "date", routine=pl.lit(False)),
    ]
    each_day = pl.concat(days).group_by("vehicle", "date").agg(pl.col("routine").any())
    return each_day.sort("vehicle", "date")


def _trusted_odometers(sightings: pl.DataFrame, readings: pl.DataFrame) -> pl.DataFrame:
    """Its own odometer where the day's reading stands, the mended one where that was mended."""
    days = readings.select("vehicle", "date", "mended", clean_mi="odometer_mi")
    marked = sightings.join(days, on=["vehicle", "date"], how="left", maintain_order="left")
    own = pl.when("mended").then("clean_mi").when(~pl.col("mended")).then("odometer_mi")
    told = pl.when(pl.col("odometer_mi").is_not_null()).then(own).alias("odometer_mi")
    return marked.with_columns(told).drop("clean_mi", "mended")


def _lines(jobs: pl.DataFrame, mentioned: pl.DataFrame, catalogue: Catalogue) -> pl.DataFrame:
    """Lines that serve for costs, with the components and follow-on work they name."""
    usable = jobs.filter((pl.col("fate") == "accepted") | pl.col("reason").is_in(COSTS_ONLY))
    named = mentioned.group_by("file", "row").agg(components=pl.col("component").unique().sort())
    text = pl.col("text").str.to_lowercase()
    told = [
        pl.when(text.str.contains(words_pattern(work.words))).then(pl.lit(name))
        for name, work in catalogue.follow_on.items()
    ]
    follow_on = pl.coalesce([*told, pl.lit(None, pl.String)])
    return usable.join(named, on=["file", "row"], how="left", maintain_order="left").with_columns(
        follow_on=follow_on
    )


def _renamed(frame: pl.DataFrame, names: pl.DataFrame) -> pl.DataFrame:
    """Pseudonyms in the place of registrations."""
    joined = frame.join(names, on="vehicle", how="left", maintain_order="left")
    return joined.with_columns(vehicle=pl.col("pseudonym")).drop("pseudonym")


def _problems(judged: pl.DataFrame) -> pl.DataFrame:
    """The rows not accepted: where, why, what was found and what mends it."""
    odd = judged.filter(pl.col("fate") != "accepted")
    sources = {"date": "date_written"} | {
        name: name for name in NAMED_IN_PROBLEMS if name in judged.columns
    }
    values = [
        pl.when(pl.col("blame") == name).then(pl.col(source).cast(pl.String))
        for name, source in sources.items()
    ]
    return odd.with_columns(column=pl.col("blame"), value=pl.coalesce(values)).select(PROBLEMS)
