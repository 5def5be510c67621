"""Who is in the book, who comes back, and how old their parts are. Drawn job lines."""

from pathlib import Path

import pytest
from drawn import workshop_folder

from wornby.decisions.book import parts_in_the_book, return_chances, vehicles_in_the_book
from wornby.errors import EstimateError
from wornby.histories.fitments import histories
from wornby.records.reading import Records, read_records

VEHICLES = "vehicle | first_registered\nV1 | 2005-01-01\nV2 | 2010-01-01"
LOOKS = """
vehicle | date       | component  | condition | origin
V1      | 2015-01-01 | water pump | sound     | original
V1      | 2015-01-01 | thermostat | sound     | renewed
"""


def recorded(folder: Path, jobs: str) -> Records:
    """The records of two vans; they close at the end of 2020."""
    return read_records(workshop_folder(folder, jobs=jobs, vehicles=VEHICLES, looks=LOOKS))


def test_a_vehicle_that_has_stayed_away_is_not_in_the_book(tmp_path: Path) -> None:
    records = recorded(
        tmp_path,
        """
        date       | vehicle | odometer | text
        2015-01-01 | V1      | 80000    | oil service
        2020-06-01 | V1      | 120000   | oil service
        2015-01-01 | V2      | 40000    | oil service
        """,
    )
    book = vehicles_in_the_book(records)
    assert book.height == 1
    assert book["age_years"][0] == pytest.approx(16.0, abs=0.01)
    assert book["miles_per_year"][0] == pytest.approx(120_000 / 15.41, rel=1e-3)
    assert book["odometer_mi"][0] == pytest.approx(120_000 + 0.58 * 7_786, rel=1e-3)


def test_parts_are_as_old_as_what_is_known_of_them(tmp_path: Path) -> None:
    records = recorded(
        tmp_path,
        """
        date       | vehicle | odometer | text
        2015-01-01 | V1      | 80000    | oil service
        2018-12-31 | V1      | 110000   | n/s transfer pipe leaking, renewed
        2020-06-01 | V1      | 120000   | oil service
        """,
    )
    parts = parts_in_the_book(records, histories(records))
    told = {
        (r["component"], r["position"]): (r["origin"], r["age_years"] and round(r["age_years"]))
        for r in parts.to_dicts()
    }
    assert told == {
        ("water pump", ""): ("original", 16),
        ("thermostat", ""): ("renewed", None),
        ("transfer pipe", "left"): ("renewed", 2),
        ("transfer pipe", "right"): ("unknown", None),
    }


def test_those_who_stayed_away_longer_come_back_less(tmp_path: Path) -> None:
    """Forty vans: the odd ones come every half year, the even ones never again after 2018."""
    rows = ["date | vehicle | text"]
    for n in range(40):
        last = 2021 if n % 2 else 2018
        days = [f"{year}-{month}-01" for year in range(2014, last) for month in ("05", "11")]
        rows += [f"{day} | V{n} | oil service" for day in days]
    vehicles = "vehicle | first_registered\n" + "\n".join(f"V{n} | 2008-01-01" for n in range(40))
    folder = workshop_folder(tmp_path, jobs="\n".join(rows), vehicles=vehicles)
    chances = return_chances(read_records(folder))
    assert chances.height == 20
    # 20 of 20 came back of those seen within half a year, drawn towards one in two by one
    assert chances["return_chance"].unique().to_list() == [pytest.approx(20.5 / 21)]


def test_a_short_history_cannot_say_who_comes_back(tmp_path: Path) -> None:
    records = recorded(tmp_path, "date | vehicle | text\n2020-06-01 | V1 | oil service")
    with pytest.raises(EstimateError, match="who comes back is unknown"):
        return_chances(records)


def test_a_vehicle_last_seen_on_the_first_day_that_counts_has_a_chance_to_come_back(
    tmp_path: Path,
) -> None:
    """Eighteen months before the close of 2020 is the end of June 2019."""
    records = recorded(
        tmp_path,
        """
        date       | vehicle | odometer | text
        2015-01-01 | V1      | 80000    | oil service
        2017-06-01 | V1      | 100000   | oil service
        2019-06-30 | V1      | 120000   | oil service
        2017-06-01 | V2      | 40000    | oil service
        """,
    )
    assert (
        vehicles_in_the_book(records)["vehicle"].to_list()
        == return_chances(records)["vehicle"].to_list()
    )
    assert return_chances(records).height == 1
