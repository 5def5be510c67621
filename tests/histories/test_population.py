"""Cars on the road against cars in the book: the same failures, counted by cell."""

from pathlib import Path

import polars as pl
import pytest
from drawn import drawn, workshop_folder

from wornby.histories.fitments import histories
from wornby.histories.observation import OPERATOR, RULES, WORKSHOP
from wornby.histories.population import population_view, watched_years
from wornby.histories.two_views import reconciled
from wornby.histories.watching import episodes
from wornby.records.reading import Records, read_records

VEHICLES = """
vehicle | first_registered
V1      | 2005-06-01
V2      | 2005-03-01
V3      | 1999-05-01
"""
JOBS = """
date       | vehicle | text
2013-01-01 | V1      | oil service
2014-07-01 | V1      | water pump leaking, renewed
2016-01-01 | V1      | oil service
2014-02-01 | V2      | water pump seized, renewed
2014-02-01 | V3      | oil service
2015-02-01 | V3      | water pump leaking, renewed
"""
ROAD = """
model_year | version | calendar_year | on_the_road
2005       | unknown | 2012          | 310
2005       | unknown | 2013          | 300
2005       | unknown | 2014          | 290
2005       | unknown | 2015          | 280
"""


def population() -> pl.DataFrame:
    """The drawn vehicles on the road, none of 1999."""
    years = pl.col("model_year", "calendar_year").cast(pl.Int32)
    return drawn(ROAD).with_columns(years, pl.col("on_the_road").cast(pl.Float64))


@pytest.fixture
def records(tmp_path: Path) -> Records:
    """Three vehicles: one watched, one that came because of the failure, one of no listed year."""
    return read_records(workshop_folder(tmp_path, jobs=JOBS, vehicles=VEHICLES))


def test_a_vehicle_is_watched_from_its_first_visit_to_its_last(records: Records) -> None:
    """By hand: V1 for 2013, 2014 and 2015, V3 from February to February, V2 for no time."""
    years = watched_years(records).sort("model_year", "calendar_year")
    days = [(m, c, round(w * 365.25)) for m, _, c, w in years.iter_rows()]
    assert days == [
        (1999, 2014, 334), (1999, 2015, 31),
        (2005, 2013, 365), (2005, 2014, 365), (2005, 2015, 365), (2005, 2016, 0),
    ]  # fmt: skip


def test_failures_meet_the_cars_on_the_road_of_their_model_year(records: Records) -> None:
    cells = population_view(records, population()).cells.filter(component="water pump")
    told = cells.sort("calendar_year").select(
        "calendar_year", "failures", "on_the_road", "watched_failures"
    )
    assert told.rows() == [(2013, 0, 300.0, 0), (2014, 2, 290.0, 1), (2015, 0, 280.0, 0)]


def test_a_failure_that_brought_the_vehicle_in_counts_on_the_road_but_not_while_watched(
    records: Records,
) -> None:
    view = population_view(records, population())
    assert view.first_visit.rows() == [("water pump", 1)]


def test_a_failure_of_no_listed_model_year_is_counted_apart(records: Records) -> None:
    assert population_view(records, population()).outside.rows() == [("water pump", 1)]


def test_years_without_records_add_no_cars(records: Records) -> None:
    cells = population_view(records, population()).cells
    assert cells["calendar_year"].min() == 2013


RECONCILED = {
    "operator": (OPERATOR, {"told": 3, "not_at_risk": 1, "in_episodes": 2}),
    "workshop": (WORKSHOP, {"told": 3, "of_unknown_age": 3, "in_episodes": 0}),
}


@pytest.mark.parametrize("name", RECONCILED)
def test_what_parts_the_two_counts_is_named(records: Records, name: str) -> None:
    """Taken for originals, V2's pump was not watched before it failed; where nobody noted which
    parts are original, none of the three is known to be."""
    rule, expected = RECONCILED[name]
    made = histories(records)
    row = reconciled(records, made, episodes(made, rule)).filter(component="water pump")
    told = {k: v for k, v in row.row(0, named=True).items() if k in RECONCILED_STEPS and v}
    assert told == {k: v for k, v in expected.items() if v}


RECONCILED_STEPS = (
    "told", "no_fitment", "only_looked_at", "of_unknown_age", "not_at_risk", "no_life_ended",
    "in_episodes",
)  # fmt: skip

LOOKS = """
vehicle | date       | component     | condition | origin   | position
V1      | 2013-01-01 | transfer pipe | sound     | original |
V1      | 2013-01-01 | water pump    | sound     | original |
V1      | 2015-05-01 | water pump    | failed    | original |
"""
PIPES = """
date       | vehicle | text
2013-01-01 | V1      | oil service
2014-07-01 | V1      | transfer pipe leaking, renewed
2016-01-01 | V1      | n/s transfer pipe leaking, renewed
2016-01-04 | V1      | n/s transfer pipe leaking, renewed
2017-01-01 | V1      | oil service
"""


def test_told_twice_unsaid_positions_and_looks_are_named_and_add_up(tmp_path: Path) -> None:
    """By hand. Pipes: three renewals told. Of the first nobody said which side, so that half of it
    falls to each, and which pipe the second renewed, an original or its successor, is unknown;
    the third is the second told again. The pump was seen failed and never renewed."""
    made = read_records(workshop_folder(tmp_path, jobs=PIPES, looks=LOOKS))
    fitted = histories(made)
    table = reconciled(made, fitted, episodes(fitted, WORKSHOP))
    rows = {row["component"]: row for row in table.to_dicts()}
    pipe, pump = rows["transfer pipe"], rows["water pump"]
    assert (pipe["told"], pipe["no_fitment"], pipe["only_looked_at"]) == (3, 2, 0)
    assert (pump["told"], pump["only_looked_at"], pump["in_episodes"]) == (0, 1, 1)
    for row in rows.values():
        assert added_up(row) == pytest.approx(row["in_episodes"])


def added_up(row: dict[str, float]) -> float:
    """From the failures told to those in the episodes, step by step."""
    minus = sum(row[step] for step in RECONCILED_STEPS[3:6])
    return row["told"] - row["no_fitment"] + row["only_looked_at"] + row["other_ends"] - minus


FOUND_RENEWED = """
vehicle | date       | component  | condition | origin
V1      | 2013-01-01 | water pump | sound     | renewed
"""


@pytest.mark.parametrize("name", RULES)
def test_under_every_rule_the_two_counts_add_up(tmp_path: Path, name: str) -> None:
    """A pump found renewed fails once, whatever a rule makes of its age."""
    jobs = """
    date       | vehicle | text
    2013-01-01 | V1      | oil service
    2014-07-01 | V1      | water pump leaking, renewed
    2015-07-01 | V1      | thermostat renewed
    2016-07-01 | V1      | oil service
    """
    made = read_records(workshop_folder(tmp_path, jobs=jobs, looks=FOUND_RENEWED))
    fitted = histories(made)
    for row in reconciled(made, fitted, episodes(fitted, RULES[name])).to_dicts():
        assert added_up(row) == pytest.approx(row["in_episodes"])
        assert row["no_fitment"] == 0
