"""Which visits count as past jobs of a kind, and what they cost. Common practice, no source."""

from pathlib import Path

from drawn import workshop_folder

from wornby.decisions.jobs_done import jobs_of_late, past_jobs
from wornby.histories.fitments import histories
from wornby.records.catalogue import CandidateJob
from wornby.records.reading import read_records

PUMP_JOB = CandidateJob("water pump", ("water pump",), "genuine", 12, 500.0)
LAYOUT_HOURS = 'labour_hours = "hours"\ncost_net = "cost"\n'


PUMP = 'name = "water pump"\n'
THERMOSTAT = 'name = "thermostat"\n'
THERMOSTAT_LISTS = """
[[price_list]]
in_force_from = 2014-01-01
part_cost_net = {thermostat = {genuine = 10.0}}

[[price_list]]
in_force_from = 2019-01-01
part_cost_net = {thermostat = {genuine = 30.0}}
"""


def past(folder: Path, jobs: str, *, lists: str = "", pump_cost: float = 50.0):  # type: ignore[no-untyped-def]  # a frame
    """Past water pump jobs of one van, labour at 40 an hour."""
    written = workshop_folder(folder, jobs=jobs)
    catalogue = (written / "workshop.toml").read_text()
    costs = THERMOSTAT + "part_cost_net = {genuine = 30.0}\n"
    pump = f"{PUMP}part_cost_net = {{genuine = {pump_cost}}}\n"
    told = catalogue.replace(THERMOSTAT, costs, 1).replace(PUMP, pump, 1)
    (written / "workshop.toml").write_text(told + lists)
    layout = (written / "layout.toml").read_text()
    (written / "layout.toml").write_text(layout.replace('price = "price"\n', LAYOUT_HOURS))
    lines = [line.split("|") for line in jobs.strip().splitlines()]
    names = [cell.strip() for cell in lines[0]]
    import polars as pl

    frame = pl.DataFrame(
        {n: [row[i].strip() or None for row in lines[1:]] for i, n in enumerate(names)},
        schema=dict.fromkeys(names, pl.String),
    )
    blank = [pl.lit("").alias(c) for c in ("odometer", "part_number", "quantity") if c not in names]
    frame.with_columns(blank).write_csv(written / "job_lines.csv")
    records = read_records(written)
    return records, past_jobs(records, histories(records), PUMP_JOB, labour_cost_per_hour=40.0)


def test_hours_parts_found_work_and_consumables_are_told_apart(tmp_path: Path) -> None:
    _, told = past(
        tmp_path,
        """
job | date       | vehicle | kind       | text                              | hours | cost
1   | 2015-01-01 | V1      | labour     | water pump leaking, renewed       | 4.0   |
1   | 2015-01-01 | V1      | part       | water pump                        |       | 50
1   | 2015-01-01 | V1      | labour     | thermostat seized, renewed        | 0.5   |
1   | 2015-01-01 | V1      | part       | thermostat                        |       | 20
1   | 2015-01-01 | V1      | consumable | sundries                          |       | 5
        """,
    )
    assert told.height == 1
    row = told.row(0, named=True)
    assert (row["labour_hours"], row["parts_cost_net"]) == (4.0, 50.0)
    assert (row["found_cost_net"], row["other_cost_net"]) == (40.0, 5.0)


def test_a_pump_renewed_in_passing_is_no_pump_job(tmp_path: Path) -> None:
    _, told = past(
        tmp_path,
        """
job | date       | vehicle | kind   | text                                  | hours | cost
1   | 2015-01-01 | V1      | labour | thermostat seized, renewed            | 3.8   |
1   | 2015-01-01 | V1      | labour | water pump renewed as a precaution    | 0.6   |
        """,
    )
    assert told.is_empty()


def test_a_line_that_tells_of_two_parts_cannot_be_parted(tmp_path: Path) -> None:
    _, told = past(
        tmp_path,
        """
job | date       | vehicle | kind   | text                                  | hours | cost
1   | 2015-01-01 | V1      | labour | water pump and thermostat renewed     | 4.4   |
        """,
    )
    assert told.is_empty()


def test_a_comeback_within_the_warranty_is_charged_to_the_first_job(tmp_path: Path) -> None:
    records, told = past(
        tmp_path,
        """
job | date       | vehicle | kind   | text                                  | hours | cost
1   | 2015-01-01 | V1      | labour | water pump leaking, renewed           | 4.0   |
2   | 2015-07-01 | V1      | labour | water pump leaking, renewed           | 3.5   |
3   | 2019-07-01 | V1      | labour | water pump leaking, renewed           | 4.5   |
        """,
    )
    assert told["comeback_cost_net"].to_list() == [140.0, None, None]
    assert jobs_of_late(records, told, years=3) == (1, 3.0)


FOUND = """
job | date       | vehicle | kind       | text                              | hours | cost
1   | 2015-01-01 | V1      | labour     | water pump leaking, renewed       | 4.0   |
1   | 2015-01-01 | V1      | labour     | thermostat seized, renewed        | 0.5   |
1   | 2015-01-01 | V1      | part       | genuine thermostat                |       | 12
1   | 2015-01-01 | V1      | consumable | sundries                          |       | 5
"""


def test_found_parts_cost_today_what_the_list_of_their_day_makes_of_them(tmp_path: Path) -> None:
    # by hand: half an hour at 40, the part at 12 times 30 over 10; sundries stand as paid
    _, told = past(tmp_path, FOUND, lists=THERMOSTAT_LISTS)
    row = told.row(0, named=True)
    assert row["found"] == ["thermostat"]
    assert row["found_cost_net"] == 0.5 * 40 + 12 * 3
    assert (row["restated_net"], row["as_paid_net"]) == (36.0, 5.0)


def test_without_a_list_found_parts_stand_as_paid(tmp_path: Path) -> None:
    _, told = past(tmp_path, FOUND)
    row = told.row(0, named=True)
    assert row["found_cost_net"] == 0.5 * 40 + 12
    assert (row["restated_net"], row["as_paid_net"]) == (0.0, 17.0)


def test_parts_of_a_comeback_are_restated_too(tmp_path: Path) -> None:
    lists = THERMOSTAT_LISTS.replace("thermostat", '"water pump"').replace("30.0", "60.0")
    _, told = past(
        tmp_path,
        """
job | date       | vehicle | kind   | text                                  | hours | cost
1   | 2015-01-01 | V1      | labour | water pump leaking, renewed, genuine  | 4.0   |
2   | 2015-07-01 | V1      | labour | water pump leaking, renewed, genuine  | 3.5   |
2   | 2015-07-01 | V1      | part   | genuine water pump                    |       | 15
        """,
        lists=lists,
        pump_cost=60.0,
    )
    first = told.row(0, named=True)
    assert first["comeback_cost_net"] == 3.5 * 40 + 15 * 6
    assert first["restated_net"] == 90.0
