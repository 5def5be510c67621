from pathlib import Path

import polars as pl
from drawn import workshop_folder

from wornby.histories.fitments import histories
from wornby.histories.look_days import looked_at
from wornby.histories.observation import rule_named
from wornby.histories.watching import episodes
from wornby.records.reading import read_records

LOOKS = """
vehicle | date       | component  | condition | origin
V1      | 2012-01-01 | water pump | sound     | original
"""


def seen(folder: Path, jobs: str, looks: str = LOOKS) -> pl.DataFrame:
    records = read_records(workshop_folder(folder, jobs=jobs, looks=looks))
    made = episodes(histories(records), rule_named("workshop"))
    return looked_at(records, made, "water pump")


def test_routine_visits_look_and_others_do_not(tmp_path: Path) -> None:
    table = seen(
        tmp_path,
        """
        date       | vehicle | odometer | text
        2012-01-01 | V1      | 80000    | oil service
        2013-01-01 | V1      | 85000    | oil service
        2013-07-01 | V1      | 88000    | wiper blades
        2014-01-01 | V1      | 91000    | oil service
        2014-06-01 | V1      | 94000    | water pump leaking, renewed
        """,
    )
    (part,) = table.to_dicts()
    assert [round(day / 365.25, 1) for day in part["look_days"]] == [7.0, 8.0, 9.0]
    assert part["failed"]
    assert part["degraded_days"] is None


def test_a_part_found_degraded_is_followed_no_farther(tmp_path: Path) -> None:
    table = seen(
        tmp_path,
        """
        date       | vehicle | odometer | text
        2012-01-01 | V1      | 80000    | oil service
        2013-01-01 | V1      | 85000    | oil service
        2013-01-01 | V1      | 85000    | water pump weeping, advised
        2014-01-01 | V1      | 91000    | oil service
        2015-06-01 | V1      | 94000    | water pump leaking, renewed
        """,
    )
    (part,) = table.to_dicts()
    assert round(part["exit_days"] / 365.25, 1) == 8.0
    assert part["degraded_days"] == part["exit_days"] == part["look_days"][-1]
    assert not part["failed"]


def test_a_renewal_for_a_degraded_finding_is_one(tmp_path: Path) -> None:
    table = seen(
        tmp_path,
        """
        date       | vehicle | odometer | text
        2012-01-01 | V1      | 80000    | oil service
        2013-01-01 | V1      | 85000    | oil service
        2013-01-01 | V1      | 85000    | water pump weeping, renewed
        """,
    )
    (part,) = table.to_dicts()
    assert part["degraded_days"] == part["exit_days"]
    assert not part["failed"]


def test_what_was_degraded_when_watching_began_is_left_out(tmp_path: Path) -> None:
    table = seen(
        tmp_path,
        """
        date       | vehicle | odometer | text
        2012-01-01 | V1      | 80000    | oil service
        2012-01-01 | V1      | 80000    | water pump weeping, advised
        2013-01-01 | V1      | 85000    | oil service
        """,
    )
    assert table.is_empty()
