"""What is told without writing is what the records stage reads from the files."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from told_records import told_records

from wornby.demo import WorldParameters, demo_records, write_records
from wornby.demo.places import World, merrow_world
from wornby.demo.visits import workshop_book
from wornby.histories.fitments import histories
from wornby.records.reading import Records, read_records

SEED = 11
CERTAIN = replace(
    WorldParameters().without_dirt(),
    n_vehicles=60,
    intake_inspection=1.0,
    original_seen_as_original=1.0,
    renewed_seen_as_renewed=1.0,
    checks_per_place_at_service=0.0,
    degraded_seen=0.0,
    side_not_said=0.0,
    precaution_not_explained=0.0,
    part_number_missing=0.0,
    sd_reading_mi=0.0,
)
"""A world in which chance has no say in what is written, only in how."""

FACTS = ("component", "position", "fitted_on", "fitted_mi", "origin", "grade", "ended_on",
         "ended_mi", "ending", "known_original_on", "last_original_on", "found_renewed_on",
         "first_visit", "last_visit", "visit_before")  # fmt: skip


@pytest.fixture(scope="module")
def world() -> World:
    return merrow_world(CERTAIN)


@pytest.fixture(scope="module")
def told(world: World) -> Records:
    """Straight from what happened."""
    rng = np.random.default_rng(SEED)
    book = workshop_book(world, rng)
    return told_records(book, world=world, rng=rng)


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> Records:
    """The same world by way of text: the book is drawn first, so it is the same book."""
    folder: Path = tmp_path_factory.mktemp("folder")
    write_records(demo_records(CERTAIN, np.random.default_rng(SEED)), folder)
    return read_records(folder)


def facts(records: Records) -> pl.DataFrame:
    """Fitments without the vehicle's name, which is a pseudonym in the one."""
    fitments = histories(records).fitments.with_columns(
        grade=pl.when(pl.col("position") == "").then("grade")
    )
    return fitments.select("first_registered", *FACTS).sort("first_registered", *FACTS)


def test_both_ways_give_the_same_fitments(told: Records, read: Records) -> None:
    """Where there is one place, all; where there are two, a line may blur which side was why."""
    ours, theirs = facts(told), facts(read)
    for side, least in ((pl.col("position") == "", 1.0), (pl.col("position") != "", 0.99)):
        here, there = ours.filter(side), theirs.filter(side)
        same = here.join(there, on=here.columns, how="semi", nulls_equal=True)
        assert here.height == there.height
        assert same.height >= least * here.height
    endings = set(ours["ending"].drop_nulls())
    assert endings >= {"failure", "degraded finding", "preventive renewal"}


def test_both_ways_give_the_same_visits_vehicles_and_readings(told: Records, read: Records) -> None:
    def of(frame: pl.DataFrame, records: Records, *columns: str) -> pl.DataFrame:
        joined = frame.join(records.vehicles.select("vehicle", "first_registered"), on="vehicle")
        return joined.select("first_registered", *columns).sort("first_registered", *columns)

    for frames, columns in (
        ((told.visits, read.visits), ("date",)),
        ((told.readings, read.readings), ("date", "odometer_mi")),
        ((told.vehicles.select("vehicle", "version"), read.vehicles.select("vehicle", "version")),
         ("version",)),
    ):  # fmt: skip
        ours, theirs = of(frames[0], told, *columns), of(frames[1], read, *columns)
        assert ours.equals(theirs)


def test_a_service_is_called_one_about_as_often(told: Records, read: Records) -> None:
    """0.9 of the services, each way: within four standard errors of each other."""
    counts = [int(records.visits["routine"].sum()) for records in (told, read)]
    assert abs(counts[0] - counts[1]) < 4 * np.sqrt(2 * told.visits.height * 0.9 * 0.1)
    assert 0 < counts[0] < told.visits.height


def test_what_is_seen_is_spread_as_in_the_files(tmp_path: Path) -> None:
    """With every chance as in the demo, the counts of sightings agree within five root counts."""
    parameters = replace(WorldParameters().without_dirt(), n_vehicles=150)
    write_records(demo_records(parameters, np.random.default_rng(SEED)), tmp_path)
    rng = np.random.default_rng(SEED)
    other = merrow_world(parameters)
    ours = told_records(workshop_book(other, rng), world=other, rng=rng)
    counts = [
        records.sightings.group_by("seen", "reason", "origin").len()
        for records in (ours, read_records(tmp_path))
    ]
    both = counts[0].join(counts[1], on=["seen", "reason", "origin"], how="full", suffix="_read")
    far = both.filter(
        (pl.col("len").fill_null(0).cast(pl.Int64) - pl.col("len_read").fill_null(0)).abs()
        > 5 * pl.max_horizontal("len", "len_read").sqrt() + 10
    )
    assert far.is_empty(), far
