"""Every row of a folder is accepted, set aside or rejected, and says why."""

from pathlib import Path

import polars as pl
import pytest
from drawn import workshop_folder

from wornby.errors import RecordError
from wornby.records.reading import Records, read_records


def fates(records: Records) -> dict[tuple[str, int], str]:
    """(file, row) -> reason, for every row not accepted."""
    return {(p["file"], p["row"]): p["reason"] for p in records.problems.to_dicts()}


def test_each_kind_of_bad_row_has_its_reason(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        jobs="""
        date       | vehicle | text              | quantity | price
        2015-03-01 | V1      | water pump renewed | 1       | 90
        2015-03-01 | V1      | water pump renewed | 1       | 90
                   | V1      | oil service        | 1       | 60
        2015-13-01 | V1      | oil service        | 1       | 60
        2031-03-01 | V1      | oil service        | 1       | 60
        2015-04-01 |         | oil service        | 1       | 60
        2015-04-02 | V1      |                    | 1       | 60
        2015-04-03 | V9      | oil service        | 1       | 60
        2004-04-03 | V1      | oil service        | 1       | 60
        2015-05-03 | V1      | thermostat renewed | 1       | 40
        2015-05-20 | V1      | thermostat credit  | -1      | -40
        2015-05-21 | V1      | bulb               | 0       | 4
        """,
    )
    records = read_records(folder)
    assert fates(records) == {
        ("job_lines.csv", 3): "repeated row",
        ("job_lines.csv", 4): "no date",
        ("job_lines.csv", 5): "unreadable date",
        ("job_lines.csv", 6): "date after the close of records",
        ("job_lines.csv", 7): "no vehicle",
        ("job_lines.csv", 8): "nothing written",
        ("job_lines.csv", 9): "vehicle not in vehicles",
        ("job_lines.csv", 10): "before first registered",
        ("job_lines.csv", 11): "credited later",
        ("job_lines.csv", 12): "credit or refund",
        ("job_lines.csv", 13): "quantity zero or hours below zero",
    }
    jobs = records.ledgers[1]
    assert (jobs.n_read, jobs.n_accepted) == (12, 1)


def test_a_problem_says_where_what_was_found_and_what_mends_it(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        jobs="""
        date       | vehicle | text
        2015-03-01 | V1      | oil service
        2015-04-01 | V1      | oil service
        31.4.16    | V1      | oil service
        """,
    )
    (problem,) = read_records(folder).problems.to_dicts()
    assert problem == {
        "file": "job_lines.csv",
        "row": 4,
        "fate": "rejected",
        "reason": "unreadable date",
        "column": "date",
        "value": "31.4.16",
        "mend": "write the date as the others are",
    }


def test_registrations_are_one_however_spelt_and_leave_only_as_pseudonyms(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        vehicles="vehicle | first_registered\nQQ1 AAA | 2005-01-01",
        jobs="""
        date       | vehicle | text
        2015-03-01 | qq1aaa  | oil service
        2015-04-01 | QQ1-AAA | oil service
        """,
    )
    records = read_records(folder)
    (pseudonym,) = records.visits["vehicle"].unique()
    assert pseudonym == records.vehicles["vehicle"][0]
    assert "QQ1" not in pseudonym.upper()
    for frame in (records.lines, records.sightings, records.readings, records.visits):
        assert frame.filter(pl.col("vehicle").str.contains("(?i)qq1")).is_empty()


def test_a_vehicle_without_first_registration_serves_for_costs_only(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        vehicles="vehicle | first_registered\nV1 | 2005-01-01\nV2 |",
        jobs="""
        date       | vehicle | text               | price
        2015-03-01 | V1      | oil service        | 60
        2015-04-01 | V2      | water pump renewed | 90
        """,
    )
    records = read_records(folder)
    assert fates(records)["job_lines.csv", 3] == "first registered unknown"
    assert records.lines["price_net"].to_list() == [60.0, 90.0]
    assert records.sightings.is_empty()


def test_one_registration_on_two_vehicles_is_set_aside_not_guessed(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        vehicles="vehicle | first_registered\nV1 | 2005-01-01\nV1 | 2009-07-01",
        jobs="date | vehicle | text\n2015-03-01 | V1 | oil service",
    )
    records = read_records(folder)
    assert set(fates(records).values()) == {
        "one registration, two vehicles",
        "first registered unknown",
    }


@pytest.mark.parametrize(
    ("odometers", "kept"),
    [
        (["60000", "70000", "80000"], [60000, 70000, 80000]),
        (["60000", "7000", "80000"], [60000, 80000]),
        (["60000", "112654", "80000"], [60000, 80000]),
        (["60,000", "70,000 miles", "128,748 km"], [60000, 70000, 80000]),
        (["60000", "", "80000"], [60000, 80000]),
    ],
    ids=["consistent", "digit dropped", "kilometres among miles", "units written", "blank"],
)
def test_odometers_that_contradict_the_others_are_set_aside(
    tmp_path: Path, odometers: list[str], kept: list[float]
) -> None:
    rows = [
        f"201{n}-03-01 | V1 | {odometer} | oil service"
        for n, odometer in enumerate(odometers, start=4)
    ]
    jobs = "\n".join(["date | vehicle | odometer | text", *rows])
    records = read_records(workshop_folder(tmp_path, jobs=jobs))
    assert [round(x) for x in records.readings["odometer_mi"]] == kept


def test_reason_and_grade_are_gathered_from_the_lines_of_one_job(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        jobs="""
        job | date       | vehicle | kind   | text                     | part_number | quantity
        J1  | 2015-03-01 | V1      | other  | customer reports a leak  |             |
        J1  | 2015-03-01 | V1      | labour | water pump renewed       |             |
        J1  | 2015-03-01 | V1      | part   | pump                     | PAT-4103-B  | 1
        J2  | 2016-03-01 | V1      | part   | thermostat, genuine      |             | 1
        """,
    )
    told = (
        read_records(folder).sightings.sort("date").select("component", "seen", "reason", "grade")
    )
    assert told.rows() == [
        ("water pump", "renewed", "failure", "aftermarket"),
        ("thermostat", "renewed", "unknown", "genuine"),
    ]


def test_position_is_taken_from_words_or_from_the_quantity(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        jobs="""
        date       | vehicle | kind | text                       | quantity
        2015-01-01 | V1      | part | n/s transfer pipe          | 1
        2016-01-01 | V1      | part | transfer pipe              | 2
        2017-01-01 | V1      | part | both transfer pipes        |
        2018-01-01 | V1      | part | transfer pipe              | 1
        """,
    )
    seen = read_records(folder).sightings.sort("date", "position").select("date", "position").rows()
    assert [(day.year, place) for day, place in seen] == [
        (2015, "left"),
        (2016, "left"),
        (2016, "right"),
        (2017, "left"),
        (2017, "right"),
        (2018, None),
    ]


def test_what_could_not_be_placed_is_listed_with_near_matches(tmp_path: Path) -> None:
    folder = workshop_folder(
        tmp_path,
        jobs="""
        date       | vehicle | text
        2015-03-01 | V1      | termostat renewed
        2015-04-01 | V1      | oil service
        2015-05-01 | V1      | Oil service
        """,
    )
    unplaced = read_records(folder).unplaced
    assert unplaced.select("text", "lines", "near_match").rows() == [
        ("oil service", 2, ""),
        ("termostat renewed", 1, "termostat ~ thermostat"),
    ]


def test_a_missing_file_is_named_with_what_to_do(tmp_path: Path) -> None:
    folder = workshop_folder(tmp_path, jobs="date | vehicle | text\n2015-03-01 | V1 | oil")
    (folder / "job_lines.csv").unlink()
    with pytest.raises(RecordError, match=r"job_lines.csv: no such file .*mend `path`"):
        read_records(folder)


def test_a_missing_column_is_named_with_those_there_are(tmp_path: Path) -> None:
    folder = workshop_folder(tmp_path, jobs="date | vehicle | text\n2015-03-01 | V1 | oil")
    content = (folder / "job_lines.csv").read_text().replace("odometer", "Mileage")
    (folder / "job_lines.csv").write_text(content)
    with pytest.raises(
        RecordError, match=r"no column 'odometer' .*wants it.*has job, date, vehicle"
    ):
        read_records(folder)


def test_dates_in_the_wrong_order_stop_the_file_with_the_first_example(tmp_path: Path) -> None:
    folder = workshop_folder(tmp_path, jobs="date | vehicle | text\n25/03/2015 | V1 | oil")
    with pytest.raises(
        RecordError, match=r"1 of 1 dates .*'year first'.*row 2: '25/03/2015'; mend"
    ):
        read_records(folder)


@pytest.mark.parametrize("content", ["", "job,date,vehicle\n"], ids=["nothing", "header only"])
def test_an_empty_table_says_to_export_it_again(tmp_path: Path, content: str) -> None:
    folder = workshop_folder(tmp_path, jobs="date | vehicle | text\n2015-03-01 | V1 | oil")
    header = (folder / "job_lines.csv").read_text().splitlines()[0] + "\n"
    (folder / "job_lines.csv").write_text(header if content else "")
    with pytest.raises(RecordError, match=r"job_lines.csv: .*export it again"):
        read_records(folder)


@pytest.mark.parametrize("name", ["layout.toml", "workshop.toml"])
def test_a_folder_without_its_two_files_says_which_is_missing(tmp_path: Path, name: str) -> None:
    folder = workshop_folder(tmp_path, jobs="date | vehicle | text\n2015-03-01 | V1 | oil")
    (folder / name).unlink()
    with pytest.raises(RecordError, match=rf"{name}: no such file"):
        read_records(folder)
