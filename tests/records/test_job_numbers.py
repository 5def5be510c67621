"""Invoices that number their first line alone: the rest belongs to the same job."""

from pathlib import Path

from drawn import workshop_folder

from wornby.records.job_numbers import NO_NUMBER
from wornby.records.reading import Records, read_records

JOBS = """
job | date       | vehicle | text
101 | 2015-03-01 | V1      | water pump renewed
    | 2015-03-01 | V1      | thermostat renewed
102 | 2015-03-02 | V1      | water pump ok
103 | 2015-03-02 | V1      | thermostat ok
    | 2015-03-02 | V1      | brake check
    | 2015-03-02 | V1      | road test
    | 2015-03-03 | V1      | thermostat ok
"""


def of(folder: Path, jobs: str) -> Records:
    return read_records(workshop_folder(folder, jobs=jobs))


def test_a_line_without_a_number_belongs_to_the_job_of_its_vehicle_and_day(tmp_path: Path) -> None:
    """Of a day with two jobs nothing says which: such lines are a job of their own."""
    own = ["101", "101", "102", "103", *["job_lines.csv row 6"] * 2, "job_lines.csv row 8"]
    assert of(tmp_path, JOBS).lines["job"].to_list() == own


def test_a_renewal_without_a_number_is_no_inspection(tmp_path: Path) -> None:
    assert of(tmp_path, JOBS).sightings["job"].null_count() == 0


def test_the_account_says_how_many_lines_had_no_number(tmp_path: Path) -> None:
    (lines,) = (one for one in of(tmp_path, JOBS).ledgers if one.what == "job lines")
    assert (lines.n_accepted, lines.mended) == (7, {NO_NUMBER: 4})


def test_a_file_without_numbers_has_a_job_a_day_and_nothing_mended(tmp_path: Path) -> None:
    records = of(tmp_path, "date | vehicle | text\n2015-03-01 | V1 | x\n2015-03-01 | V1 | y")
    assert records.lines["job"].n_unique() == 1
    assert not any(one.mended for one in records.ledgers)
