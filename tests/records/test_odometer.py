"""Odometers as workshops write them: which reading is set aside, which mended, and under what name.

One vehicle V1, first registered on 1 January 2005 and driven some 7,000 miles a year, unless
another story is drawn. Common practice, no source: these are the slips that job sheets show.
"""

from datetime import date
from itertools import pairwise
from pathlib import Path

import polars as pl
import pytest
from drawn import drawn, workshop_folder
from hypothesis import given
from hypothesis import strategies as st

from wornby.records.odometer import MENDED, SET_BACK, clean_readings
from wornby.records.reading import read_records

TOLERANCE = 500.0


def cleaned(table: str) -> tuple[list[int], dict[str, int], dict[str, int]]:
    """Miles kept of V1, and how many were set aside and mended, by name.

    Beside it stands V2, of the same age and never in trouble: what a fleet is judged by.
    """
    told = drawn(table).select(
        pl.col("date").str.to_date(), pl.col("odometer_mi").cast(pl.Float64), vehicle=pl.lit("V1")
    )
    sound = pl.DataFrame(
        {
            "date": [date(2006 + n, 1, 1) for n in range(12)],
            "odometer_mi": [7000.0 * (n + 1) for n in range(12)],
            "vehicle": "V2",
        }
    )
    new = pl.DataFrame({"vehicle": ["V1", "V2"], "first_registered": [date(2005, 1, 1)] * 2})
    kept, ledger = clean_readings(pl.concat([told, sound]), new, tolerance_mi=TOLERANCE)
    assert kept.filter(vehicle="V2").height == sound.height
    ours = kept.filter(vehicle="V1")["odometer_mi"]
    return [round(x) for x in ours], ledger.set_aside, ledger.mended


STORIES = {
    "one reading in kilometres among good ones": (
        "60000 65000 112654 79000 86000",
        [60000, 65000, 79000, 86000],
        {"looks like kilometres": 1},
    ),
    "the last reading in kilometres, which no later one contradicts": (
        "60000 67000 74000 130357",
        [60000, 67000, 74000],
        {"looks like kilometres": 1},
    ),
    "kilometres from some day on": (
        "60000 67000 74000 130357 141622 152888",
        [60000, 67000, 74000],
        {"looks like kilometres": 3},
    ),
    "the first reading in kilometres": (
        "96561 67000 74000 81000",
        [67000, 74000, 81000],
        {"looks like kilometres": 1},
    ),
    "a digit dropped in the middle": (
        "60000 6700 74000 81000",
        [60000, 74000, 81000],
        {"looks like a digit dropped or doubled": 1},
    ),
    "a digit dropped at the very first visit": (
        "6000 67000 74000 81000",
        [67000, 74000, 81000],
        {"looks like a digit dropped or doubled": 1},
    ),
    "a digit too many at the last visit": (
        "60000 67000 74000 810000",
        [60000, 67000, 74000],
        {"looks like a digit dropped or doubled": 1},
    ),
    "one wild reading among good ones": (
        "60000 67000 31000 81000 88000",
        [60000, 67000, 81000, 88000],
        {"runs back": 1},
    ),
    "set back once and read low ever after": (
        "60000 67000 74000 45000 52000 59000",
        [60000, 67000, 74000],
        {SET_BACK: 3},
    ),
    "driven far more for a while, as vehicles are when they change hands": (
        "60000 67000 90000 113000 136000",
        [60000, 67000, 90000, 113000, 136000],
        {},
    ),
}


@pytest.mark.parametrize(("miles", "kept", "aside"), STORIES.values(), ids=STORIES.keys())
def test_an_odometer_that_contradicts_is_set_aside_by_name(
    miles: str, kept: list[int], aside: dict[str, int]
) -> None:
    rows = [f"{2014 + n}-01-01 | {mi}" for n, mi in enumerate(miles.split())]
    assert cleaned("\n".join(["date | odometer_mi", *rows])) == (kept, aside, {})


REPLACED = """
date       | odometer_mi
2013-01-01 | 56000
2014-01-01 | 63000
2015-01-01 | 4000
2016-01-01 | 11000
2017-01-01 | 18000
"""


def test_a_replaced_instrument_is_joined_on_where_the_old_one_left_off() -> None:
    """63,000 miles in nine years: 7,000 in the year in which it was changed, so 70,000 then."""
    kept, aside, mended = cleaned(REPLACED)
    assert kept == pytest.approx([56000, 63000, 70000, 77000, 84000], abs=10)
    assert (aside, mended) == ({}, {MENDED: 3})


def test_a_new_instrument_that_shows_more_than_the_usual_year_is_believed() -> None:
    kept, _, _ = cleaned(REPLACED.replace("| 4000", "| 9000").replace("| 11000", "| 16000"))
    assert kept[2:4] == [72000, 79000]


def test_an_instrument_may_be_replaced_twice() -> None:
    second = REPLACED + "2018-01-01 | 1000\n2019-01-01 | 8000"
    kept, aside, mended = cleaned(second)
    assert kept[-2:] == pytest.approx([91000, 98000], abs=20)
    assert (aside, mended) == ({}, {MENDED: 5})


def test_one_plausible_reading_before_a_replaced_instrument_is_enough() -> None:
    kept, _, mended = cleaned("\n".join(REPLACED.splitlines()[:2] + REPLACED.splitlines()[3:]))
    assert kept == pytest.approx([63000, 70000, 77000, 84000], abs=10)
    assert mended == {MENDED: 3}


def test_a_reading_with_a_digit_too_many_is_no_old_instrument() -> None:
    kept, aside, mended = cleaned(
        """
        date       | odometer_mi
        2014-01-01 | 630000
        2015-01-01 | 70000
        2016-01-01 | 77000
        """
    )
    assert (kept, mended) == ([70000, 77000], {})
    assert sum(aside.values()) == 1


def test_a_part_fitted_after_the_instrument_was_replaced_has_the_whole_distance(
    tmp_path: Path,
) -> None:
    rows = [row.replace("|", "| V1 |") + " | water pump leaking, renewed" for row in
            REPLACED.strip().splitlines()[1:]]  # fmt: skip
    jobs = "\n".join(["date | vehicle | odometer | text", *rows])
    records = read_records(workshop_folder(tmp_path, jobs=jobs))
    fitted = records.sightings.sort("date")["odometer_mi"].to_list()
    assert fitted == pytest.approx([56000, 63000, 70000, 77000, 84000], abs=10)
    (odometers,) = [book for book in records.ledgers if "odometer" in book.what]
    assert ("accepted", MENDED, 3) in odometers.table().select("fate", "reason", "rows").rows()


@given(st.lists(st.integers(0, 400_000), min_size=1, max_size=9))
def test_what_is_kept_never_runs_back_by_more_than_the_tolerance(miles: list[int]) -> None:
    """Whatever was written, every reading has a fate and those kept can stand together."""
    rows = [f"{2006 + n}-01-01 | {mi}" for n, mi in enumerate(miles)]
    kept, aside, mended = cleaned("\n".join(["date | odometer_mi", *rows]))
    assert len(kept) + sum(aside.values()) == len(miles)
    assert sum(mended.values()) <= len(kept)
    assert all(later >= earlier - TOLERANCE - 1 for earlier, later in pairwise(kept))


def test_a_vehicle_that_drives_fast_when_young_shows_no_kilometres() -> None:
    """Four thousand miles a month from delivery, as town buses do; the last reading fits on."""
    days = [date(2015, month, 15) for month in range(8, 13)]
    told = pl.DataFrame(
        {
            "vehicle": ["V1"] * 5,
            "date": days,
            "odometer_mi": [4325.0, 8525.0, 11_175.0, 15_458.0, 17_607.0],
        }
    )
    new = pl.DataFrame({"vehicle": ["V1"], "first_registered": [date(2015, 3, 15)]})
    kept, ledger = clean_readings(told, new, tolerance_mi=500.0)
    assert kept["odometer_mi"].to_list() == told["odometer_mi"].to_list()
    assert ledger.set_aside == {}
