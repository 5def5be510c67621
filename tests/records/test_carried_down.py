"""Exports that write date and registration on a job's first line alone."""

from datetime import date
from pathlib import Path

import polars as pl
import pytest
from drawn import drawn, workshop_folder

from wornby.errors import RecordError
from wornby.records.layout import read_layout
from wornby.records.loading import load_text
from wornby.records.proposal import proposed_layout
from wornby.records.reading import read_records

JOBS = """
job | date       | vehicle | odometer | text
    |            |         |          | a line above all jobs
101 | 2015-03-01 | V1      | 80000    | water pump renewed
    |            |         |          | thermostat renewed
    |            |         |          |
102 | 2015-04-02 | V1      |          | water pump ok
9   |            |         |          | thermostat ok
    |            | V1      |          | day forgotten
    |            |         |          | below it
"""


def folder_with(folder: Path, setting: str) -> Path:
    made = workshop_folder(folder, jobs=JOBS)
    layout = made / "layout.toml"
    text = layout.read_text()
    old = 'table = "job_lines"\n'
    assert text.count(old) == 1
    layout.write_text(text.replace(old, f"{old}{setting}\n"))
    return made


def test_lines_below_belong_to_the_job_above_and_to_no_earlier_one(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "carried_down = true")
    (layout,) = (one for one in read_layout(folder / "layout.toml") if one.table == "job_lines")
    told = load_text(folder, layout).select("job", "date", "vehicle", "odometer").rows()
    assert told == [
        (None, None, None, None),
        ("101", "2015-03-01", "V1", "80000"),
        ("101", "2015-03-01", "V1", "80000"),
        (None, None, None, None),
        ("102", "2015-04-02", "V1", None),
        ("9", "2015-04-02", "V1", None),
        (None, None, "V1", None),
        (None, None, "V1", None),
    ]


def test_without_the_setting_such_lines_are_rejected_by_name(tmp_path: Path) -> None:
    problems = read_records(workshop_folder(tmp_path, jobs=JOBS)).problems
    assert problems.filter(reason="no date").height == 5
    carried = read_records(folder_with(tmp_path, "carried_down = true"))
    assert carried.problems.filter(reason="no date").height == 3
    renewed = carried.sightings.filter(component="thermostat", seen="renewed")
    assert renewed["date"].to_list() == [date(2015, 3, 1)]


def test_start_proposes_it_where_many_lines_leave_both_blank(tmp_path: Path) -> None:
    lines = "\n".join(
        f"{n} | 2015-03-0{n} | AB{n}2 CDE | renew pump\n | | | road test" for n in range(1, 5)
    )
    drawn(f"inv | date | reg | work done\n{lines}").write_csv(tmp_path / "invoices.csv")
    (guess,) = proposed_layout(tmp_path).of("job_lines")
    assert guess.settings["carried_down"] is True
    assert guess.why["carried_down"] == "4 of 8 lines leave date and vehicle to the line above"
    whole = pl.read_csv(tmp_path / "invoices.csv").fill_null(strategy="forward")
    whole.write_csv(tmp_path / "invoices.csv")
    (guess,) = proposed_layout(tmp_path).of("job_lines")
    assert "carried_down" not in guess.settings


def test_it_is_refused_for_other_tables(tmp_path: Path) -> None:
    layout = workshop_folder(tmp_path, jobs=JOBS) / "layout.toml"
    old = 'table = "vehicles"\n'
    layout.write_text(layout.read_text().replace(old, f"{old}carried_down = true\n"))
    with pytest.raises(RecordError, match="carried_down goes with job_lines only"):
        read_layout(layout)
