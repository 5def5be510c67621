"""Past costs at today's, by the price list of their day. Common practice, no source."""

from datetime import date
from pathlib import Path

import polars as pl
import pytest

from wornby.decisions.price_lists import at_todays_costs
from wornby.records.catalogue import Catalogue
from wornby.records.catalogue_file import read_catalogue

PUMP = 'name = "water pump"\n'
LISTS = """
[[price_list]]
in_force_from = 2010-01-01
labour_cost_per_hour = 20.0
[price_list.part_cost_net]
"water pump" = {genuine = 40.0, aftermarket = 20.0}

[[price_list]]
in_force_from = 2015-01-01
[price_list.part_cost_net]
"water pump" = {genuine = 64.0}

[[price_list]]
in_force_from = 2018-01-01
[price_list.part_cost_net]
"water pump" = {genuine = 80.0, aftermarket = 30.0}
"""


@pytest.fixture
def catalogue(tmp_path: Path) -> Catalogue:
    from drawn import WORKSHOP

    costs = "part_cost_net = {genuine = 80.0, aftermarket = 30.0}\n"
    (tmp_path / "workshop.toml").write_text(WORKSHOP.replace(PUMP, PUMP + costs, 1) + LISTS)
    return read_catalogue(tmp_path / "workshop.toml")


def line(year: int, *, kind: str = "part", components: tuple[str, ...] = ("water pump",),
         hours: float | None = None, cost: float | None = 10.0) -> pl.DataFrame:  # fmt: skip
    row = {
        "job": f"J{year}",
        "vehicle": "V1",
        "date": date(year, 6, 1),
        "kind": kind,
        "components": list(components),
        "labour_hours": hours,
        "cost_net": cost,
    }
    return pl.DataFrame([row]).cast(
        {"labour_hours": pl.Float64, "cost_net": pl.Float64, "components": pl.List(pl.String)}
    )


def fitted(year: int, *grades: str) -> pl.DataFrame:
    rows = [
        {
            "job": f"J{year}",
            "vehicle": "V1",
            "date": date(year, 6, 1),
            "component": "water pump",
            "seen": "renewed",
            "grade": grade,
        }
        for grade in grades
    ]
    schema = dict.fromkeys(("job", "vehicle", "component", "seen", "grade"), pl.String)
    return pl.DataFrame(rows, schema={**schema, "date": pl.Date})


def today(lines: pl.DataFrame, grades: pl.DataFrame, catalogue: Catalogue) -> tuple[float, bool]:
    told = at_todays_costs(lines, grades, catalogue).row(0, named=True)
    return told["cost_net"], told["restated"]


@pytest.mark.parametrize(
    ("year", "grade", "factor"),
    [
        (2012, "genuine", 80 / 40),
        (2012, "aftermarket", 30 / 20),
        (2016, "genuine", 80 / 64),
        (2016, "aftermarket", 30 / 20),  # the list of 2015 leaves it out: that of 2010 stands
        (2016, "unknown", (80 + 30) / (64 + 20)),
        (2019, "genuine", 1.0),
    ],
)
def test_a_part_costs_today_what_the_list_of_its_day_makes_of_it(
    catalogue: Catalogue, year: int, grade: str, factor: float
) -> None:
    cost, restated = today(line(year), fitted(year, grade), catalogue)
    assert cost == pytest.approx(10 * factor)
    assert restated


@pytest.mark.parametrize(
    "lines",
    [
        line(2009),
        line(2012, components=("thermostat",)),
        line(2012, components=("thermostat", "water pump")),
        line(2012, components=()),
        line(2012, kind="consumable"),
    ],
    ids=["before the first list", "not listed", "two parts", "no part", "consumable"],
)
def test_what_no_list_covers_stands_as_paid(catalogue: Catalogue, lines: pl.DataFrame) -> None:
    assert today(lines, fitted(2012, "genuine"), catalogue) == (10.0, False)


def test_two_grades_on_one_visit_are_restated_together(catalogue: Catalogue) -> None:
    cost, restated = today(line(2012), fitted(2012, "genuine", "aftermarket"), catalogue)
    assert cost == pytest.approx(10 * 110 / 60)
    assert restated


def test_labour_billed_without_hours_has_those_that_its_cost_paid_for(catalogue: Catalogue) -> None:
    lines = pl.concat(
        [line(2012, kind="labour", cost=90.0), line(2009, kind="labour", cost=90.0),
         line(2012, kind="labour", hours=2.0, cost=90.0)]
    )  # fmt: skip
    told = at_todays_costs(lines, fitted(2012), catalogue)
    assert told["labour_hours"].to_list() == [4.5, None, 2.0]
    assert told["cost_net"].to_list() == [90.0, 90.0, 90.0]


def test_lines_keep_their_order_and_number(catalogue: Catalogue) -> None:
    lines = pl.concat([line(2019), line(2009), line(2012)])
    told = at_todays_costs(lines, fitted(2012, "genuine"), catalogue)
    assert told["job"].to_list() == lines["job"].to_list()


def test_without_lists_all_stands_as_paid(tmp_path: Path) -> None:
    from drawn import WORKSHOP

    (tmp_path / "workshop.toml").write_text(WORKSHOP)
    bare = read_catalogue(tmp_path / "workshop.toml")
    assert today(line(2012), fitted(2012, "genuine"), bare) == (10.0, False)
