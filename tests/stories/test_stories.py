"""Small job histories with the episodes beside them, one for each trap.

One vehicle, V1, first registered on 1 January 2005, unless another is drawn. Common practice,
no source: what a workshop sees, and when.
"""

from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest
from drawn import drawn, workshop_folder

from wornby.histories.fitments import histories
from wornby.histories.observation import NAIVE, OPERATOR, WORKSHOP, ObservationRule
from wornby.histories.watching import Episodes, episodes
from wornby.records.reading import read_records

INTAKE = """
vehicle | date       | component  | condition | origin
V1      | 2013-01-01 | water pump | sound     | original
"""


def told(
    folder: Path, jobs: str, looks: str = INTAKE, rule: ObservationRule = WORKSHOP
) -> Episodes:
    """Episodes from drawn job lines and inspections."""
    written = workshop_folder(folder, jobs=jobs, looks=looks)
    return episodes(histories(read_records(written)), rule)


def seen(made: Episodes, component: str) -> list[tuple[str, float, float, str]]:
    """(origin, entry age, exit age, ending) of one component, ages in years to one digit."""
    rows = made.table.filter(component=component).sort("entered_on", "position")
    return [
        (
            r["origin"],
            round(r["entry_days"] / 365.25, 1),
            round(r["exit_days"] / 365.25, 1),
            r["ending"],
        )
        for r in rows.to_dicts()
    ]


def expected(table: str) -> list[tuple[str, float, float, str]]:
    """The drawn episodes."""
    return [
        (r["origin"], float(r["entry"]), float(r["exit"]), r["ending"])
        for r in drawn(table).to_dicts()
    ]


BOTH_PIPES = """
vehicle | date       | component     | condition | origin
V1      | 2013-01-01 | transfer pipe | sound     | original
"""

STORIES = {
    "a part known to be original is at risk from the day it was known, not from new": (
        """
        date       | vehicle | odometer | text
        2013-01-01 | V1      | 80000    | oil service
        2016-01-01 | V1      | 95000    | water pump leaking, renewed
        2018-01-01 | V1      | 110000   | oil service
        """,
        """
        origin   | entry | exit | ending
        original | 8.0   | 11.0 | failure
        renewed  | 0.0   | 2.0  | in service
        """,
    ),
    "the watch ends at the last visit, not at the close of the records": (
        """
        date       | vehicle | odometer | text
        2013-01-01 | V1      | 80000    | oil service
        2015-01-01 | V1      | 90000    | oil service
        """,
        """
        origin   | entry | exit | ending
        original | 8.0   | 10.0 | in service
        """,
    ),
    "a failure that brings the vehicle in for the first time adds nothing but the new part": (
        """
        date       | vehicle | odometer | text
        2013-01-01 | V1      | 80000    | water pump seized, renewed
        2014-07-02 | V1      | 90000    | oil service
        """,
        """
        origin  | entry | exit | ending
        renewed | 0.0   | 1.5  | in service
        """,
    ),
    "renewed as a precaution: the watch ends without failure": (
        """
        date       | vehicle | odometer | text
        2013-01-01 | V1      | 80000    | oil service
        2016-01-01 | V1      | 95000    | water pump renewed as a precaution
        """,
        """
        origin   | entry | exit | ending
        original | 8.0   | 11.0 | preventive renewal
        """,
    ),
    "found weeping and renewed: a degraded finding": (
        """
        date       | vehicle | odometer | text
        2013-01-01 | V1      | 80000    | oil service
        2016-01-01 | V1      | 95000    | water pump weeping, renewed
        """,
        """
        origin   | entry | exit | ending
        original | 8.0   | 11.0 | degraded finding
        """,
    ),
    "renewed without a reason: unexplained": (
        """
        date       | vehicle | odometer | text
        2013-01-01 | V1      | 80000    | oil service
        2016-01-01 | V1      | 95000    | water pump renewed
        """,
        """
        origin   | entry | exit | ending
        original | 8.0   | 11.0 | renewal unexplained
        """,
    ),
    "two renewals, two lives": (
        """
        date       | vehicle | odometer | text
        2013-01-01 | V1      | 80000    | oil service
        2014-01-01 | V1      | 85000    | water pump leaking, renewed
        2015-01-01 | V1      | 90000    | water pump leaking, renewed
        2016-01-01 | V1      | 95000    | oil service
        """,
        """
        origin   | entry | exit | ending
        original | 8.0   | 9.0  | failure
        renewed  | 0.0   | 1.0  | failure
        renewed  | 0.0   | 1.0  | in service
        """,
    ),
    "one renewal told twice within a week is one": (
        """
        date       | vehicle | odometer | text
        2013-01-01 | V1      | 80000    | oil service
        2014-01-01 | V1      | 85000    | water pump leaking, renewed
        2014-01-04 | V1      | 85010    | water pump renewed, bill corrected
        2016-01-01 | V1      | 95000    | oil service
        """,
        """
        origin   | entry | exit | ending
        original | 8.0   | 9.0  | failure
        renewed  | 0.0   | 2.0  | in service
        """,
    ),
    "looked at and found good: the watch goes on": (
        """
        date       | vehicle | odometer | text
        2013-01-01 | V1      | 80000    | oil service
        2014-01-01 | V1      | 85000    | water pump ok, no leak
        2015-01-01 | V1      | 90000    | oil service
        """,
        """
        origin   | entry | exit | ending
        original | 8.0   | 10.0 | in service
        """,
    ),
    "found leaking and left: it failed that day, and the later renewal starts a new life": (
        """
        date       | vehicle | odometer | text
        2013-01-01 | V1      | 80000    | oil service
        2014-01-01 | V1      | 85000    | water pump leaking, customer will come back
        2014-03-01 | V1      | 85100    | water pump renewed
        2015-03-01 | V1      | 90000    | oil service
        """,
        """
        origin   | entry | exit | ending
        original | 8.0   | 9.0  | failure
        renewed  | 0.0   | 1.0  | in service
        """,
    ),
}


@pytest.mark.parametrize("name", STORIES)
def test_story(tmp_path: Path, name: str) -> None:
    jobs, episodes_drawn = STORIES[name]
    assert seen(told(tmp_path, jobs), "water pump") == expected(episodes_drawn)


def test_an_original_that_nobody_noted_is_set_aside_with_its_reason(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2013-01-01 | V1      | 80000    | oil service
    2016-01-01 | V1      | 95000    | thermostat leaking, renewed
    2017-01-01 | V1      | 99000    | oil service
    """
    made = told(tmp_path, jobs)
    assert seen(made, "thermostat") == [("renewed", 0.0, 1.0, "in service")]
    assert made.ledger.set_aside["original, but not known to be"] == 3


def test_an_owner_of_the_fleet_takes_what_was_there_as_original(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2013-01-01 | V1      | 80000    | oil service
    2016-01-01 | V1      | 95000    | thermostat leaking, renewed
    2017-01-01 | V1      | 99000    | oil service
    """
    made = told(tmp_path, jobs, rule=OPERATOR)
    assert seen(made, "thermostat") == [
        ("original", 8.0, 11.0, "failure"),
        ("renewed", 0.0, 1.0, "in service"),
    ]


def test_the_naive_rule_watches_from_new_to_the_close(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2013-01-01 | V1      | 80000    | oil service
    2016-01-01 | V1      | 95000    | water pump renewed as a precaution
    """
    made = told(tmp_path, jobs, rule=NAIVE["naive: from new to the close of records"])
    assert seen(made, "water pump") == [
        ("original", 0.0, 11.0, "preventive renewal"),
        ("renewed", 0.0, 5.0, "in service"),
    ]
    assert made.table.filter(ending="preventive renewal")["failed"].all()


def test_a_precaution_on_an_unnamed_side_ends_the_watch_of_both(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | kind | text                       | quantity
    2013-01-01 | V1      | 80000    |      | oil service                |
    2015-01-01 | V1      | 90000    | part | transfer pipe, precaution  | 1
    2017-01-01 | V1      | 99000    |      | oil service                |
    """
    made = told(tmp_path, jobs, BOTH_PIPES)
    assert seen(made, "transfer pipe") == [("original", 8.0, 10.0, "lost from sight")] * 2
    assert made.table.filter(component="transfer pipe")["weight"].to_list() == [1.0, 1.0]


def test_a_failure_on_an_unnamed_side_is_half_a_failure_of_each(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2013-01-01 | V1      | 80000    | oil service
    2015-01-01 | V1      | 90000    | transfer pipe leaking, renewed
    2017-01-01 | V1      | 99000    | oil service
    """
    pipes = told(tmp_path, jobs, BOTH_PIPES).table.filter(component="transfer pipe")
    assert pipes.group_by("ending").agg(pl.col("weight").sum()).sort("ending").rows() == [
        ("failure", 1.0),
        ("lost from sight", 1.0),
    ]


def test_what_a_later_look_calls_renewed_was_renewed_elsewhere(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2013-01-01 | V1      | 80000    | oil service
    2015-01-01 | V1      | 90000    | oil service
    2018-01-01 | V1      | 99000    | oil service
    2020-01-01 | V1      | 105000   | oil service
    """
    looks = """
    vehicle | date       | component  | condition | origin
    V1      | 2013-01-01 | water pump | sound     | original
    V1      | 2015-01-01 | water pump | sound     | original
    V1      | 2018-01-01 | water pump | sound     | renewed
    """
    made = told(tmp_path, jobs, looks)
    assert seen(made, "water pump") == [("original", 8.0, 10.0, "renewed elsewhere")]


def test_each_side_has_a_life_of_its_own(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | kind   | text
    2013-01-01 | V1      | 80000    |        | oil service
    2015-01-01 | V1      | 90000    | labour | n/s transfer pipe leaking, renewed
    2017-01-01 | V1      | 99000    |        | oil service
    """
    looks = """
    vehicle | date       | component     | position | condition | origin
    V1      | 2013-01-01 | transfer pipe | left     | sound     | original
    V1      | 2013-01-01 | transfer pipe | right    | sound     | original
    """
    made = told(tmp_path, jobs, looks)
    assert seen(made, "transfer pipe") == [
        ("original", 8.0, 10.0, "failure"),
        ("original", 8.0, 12.0, "in service"),
        ("renewed", 0.0, 2.0, "in service"),
    ]


def test_distance_is_interpolated_between_readings_and_carried_on_a_while(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2013-01-01 | V1      | 80000    | oil service
    2014-01-01 | V1      |          | water pump leaking, renewed
    2015-01-01 | V1      | 90000    | oil service
    2016-01-01 | V1      |          | water pump leaking, renewed
    2019-01-01 | V1      |          | oil service
    """
    made = told(tmp_path, jobs).table.filter(component="water pump").sort("entered_on")
    assert made["entry_mi"].to_list() == [80000.0, 0.0, 0.0]
    first, second, third = made["exit_mi"].to_list()
    assert first == 85_000
    assert second == pytest.approx(14_000, abs=5)
    assert third == pytest.approx((548 - 365) * 90_000 / 3652, abs=5)
    assert made["distance_carried"].to_list() == [False, True, False]


SINCE_THE_VISIT_BEFORE = replace(WORKSHOP, failed_since="the visit before")
FOUND_IN_THE_ROUTINE = replace(
    WORKSHOP, failed_since="the routine visit before, where found in the routine"
)


def bounds(made: Episodes, component: str) -> list[tuple[float, float]]:
    """(last known sound, known failed), in years to one digit."""
    rows = made.table.filter(pl.col("component") == component, pl.col("failed"))
    return [
        (round(days / 365.25, 1), round(end / 365.25, 1))
        for days, end in rows.select("sound_days", "exit_days").iter_rows()
    ]


BROUGHT_IN_LEAKING = """
date       | vehicle | odometer | text
2013-01-01 | V1      | 80000    | oil service
2014-01-01 | V1      | 85000    | oil service
2016-01-01 | V1      | 95000    | water pump leaking, renewed
"""
FOUND_AT_A_SERVICE = BROUGHT_IN_LEAKING + "2016-01-01 | V1 | 95000 | oil service\n"


def test_a_failure_counts_on_the_day_it_was_found(tmp_path: Path) -> None:
    assert bounds(told(tmp_path, BROUGHT_IN_LEAKING), "water pump") == [(11.0, 11.0)]


def test_it_may_be_taken_to_have_failed_since_the_visit_before(tmp_path: Path) -> None:
    made = told(tmp_path, BROUGHT_IN_LEAKING, rule=SINCE_THE_VISIT_BEFORE)
    assert bounds(made, "water pump") == [(9.0, 11.0)]
    assert made.table.filter(pl.col("failed"))["sound_mi"].to_list() == [85_000.0]


@pytest.mark.parametrize(
    ("jobs", "known"), [(BROUGHT_IN_LEAKING, (11.0, 11.0)), (FOUND_AT_A_SERVICE, (9.0, 11.0))]
)
def test_only_what_is_found_in_the_routine_may_have_failed_before(
    tmp_path: Path, jobs: str, known: tuple[float, float]
) -> None:
    assert bounds(told(tmp_path, jobs, rule=FOUND_IN_THE_ROUTINE), "water pump") == [known]


def test_a_visit_for_something_else_looked_at_nothing(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2013-01-01 | V1      | 80000    | oil service
    2014-01-01 | V1      | 85000    | bulb fitted
    2016-01-01 | V1      | 95000    | oil service
    2016-01-01 | V1      | 95000    | water pump leaking, renewed
    """
    assert bounds(told(tmp_path, jobs, rule=FOUND_IN_THE_ROUTINE), "water pump") == [(8.0, 11.0)]


def test_no_bound_lies_before_the_watch_began(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2012-01-01 | V1      | 75000    | oil service
    2014-01-01 | V1      | 85000    | water pump leaking, renewed
    """
    made = told(tmp_path, jobs, rule=SINCE_THE_VISIT_BEFORE)
    assert bounds(made, "water pump") == [(8.0, 9.0)]


@pytest.mark.parametrize(
    ("ends", "until"),
    [
        ("last visit", 10.0),
        ("a year after the last visit", 11.0),
        ("close of records where seen within a year of it", 10.0),
        ("close of records", 16.0),
    ],
)
def test_a_vehicle_that_stays_away_is_watched_as_long_as_the_rule_says(
    tmp_path: Path, ends: str, until: float
) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2013-01-01 | V1      | 80000    | oil service
    2015-01-01 | V1      | 90000    | oil service
    """
    made = told(tmp_path, jobs, rule=replace(WORKSHOP, ends=ends))
    assert seen(made, "water pump") == [("original", 8.0, until, "in service")]


def test_a_year_after_the_last_visit_never_passes_the_close(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2013-01-01 | V1      | 80000    | oil service
    2020-07-01 | V1      | 90000    | oil service
    """
    made = told(tmp_path, jobs, rule=replace(WORKSHOP, ends="a year after the last visit"))
    assert seen(made, "water pump") == [("original", 8.0, 16.0, "in service")]


PRECAUTION = """
date       | vehicle | odometer | text
2013-01-01 | V1      | 80000    | oil service
2016-01-01 | V1      | 95000    | water pump renewed as a precaution
2019-01-01 | V1      | 99000    | oil service
"""


def test_a_precaution_may_be_taken_as_if_the_part_had_gone_on(tmp_path: Path) -> None:
    made = told(tmp_path, PRECAUTION, rule=replace(WORKSHOP, worked_on="to the end of the watch"))
    assert seen(made, "water pump") == [
        ("original", 8.0, 14.0, "in service"),
        ("renewed", 0.0, 3.0, "in service"),
    ]


def test_a_precaution_may_be_taken_as_a_failure(tmp_path: Path) -> None:
    made = told(tmp_path, PRECAUTION, rule=replace(WORKSHOP, life_ends="any renewal"))
    assert bounds(made, "water pump") == [(11.0, 11.0)]


RENEWED_BEFORE = """
vehicle | date       | component  | condition | origin
V1      | 2013-01-01 | water pump | sound     | renewed
"""
LEAKS_LATER = """
date       | vehicle | odometer | text
2013-01-01 | V1      | 80000    | oil service
2016-01-01 | V1      | 95000    | water pump leaking, renewed
2017-01-01 | V1      | 99000    | oil service
"""


@pytest.mark.parametrize(
    ("unknown_ages", "watched"),
    [
        ("left out", []),
        ("fitted when first seen", [("renewed", 0.0, 3.0, "failure")]),
        ("fitted as early as can be", [("renewed", 8.0, 11.0, "failure")]),
    ],
)
def test_a_part_renewed_before_we_knew_the_vehicle_is_of_unknown_age(
    tmp_path: Path, unknown_ages: str, watched: list[tuple[str, float, float, str]]
) -> None:
    rule = replace(WORKSHOP, unknown_ages=unknown_ages)
    made = told(tmp_path, LEAKS_LATER, RENEWED_BEFORE, rule)
    assert seen(made, "water pump") == [*watched, ("renewed", 0.0, 1.0, "in service")]


def test_found_sound_after_it_had_failed_is_set_aside_by_name(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2013-01-01 | V1      | 80000    | oil service
    2014-01-01 | V1      | 85000    | water pump leaking, customer will come back
    2015-01-01 | V1      | 90000    | oil service
    """
    looks = INTAKE + "V1 | 2015-01-01 | water pump | sound | original\n"
    made = told(tmp_path, jobs, looks)
    assert seen(made, "water pump") == []
    assert made.ledger.set_aside["found sound after it had failed"] == 1


def test_renewed_elsewhere_after_it_failed_is_no_contradiction(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2013-01-01 | V1      | 80000    | oil service
    2014-01-01 | V1      | 85000    | water pump leaking, customer will come back
    2015-01-01 | V1      | 90000    | oil service
    """
    looks = INTAKE + "V1 | 2015-01-01 | water pump | sound | renewed\n"
    assert seen(told(tmp_path, jobs, looks), "water pump") == [("original", 8.0, 9.0, "failure")]


def test_an_odometer_that_runs_back_is_left_out_of_distances(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2013-01-01 | V1      | 80000    | oil service
    2014-01-01 | V1      | 85000    | oil service
    2015-01-01 | V1      | 9000     | oil service
    2016-01-01 | V1      | 95000    | water pump leaking, renewed
    2017-01-01 | V1      | 100000   | oil service
    """
    written = workshop_folder(tmp_path, jobs=jobs, looks=INTAKE)
    records = read_records(written)
    made = episodes(histories(records), WORKSHOP).table.filter(component="water pump")
    assert made.sort("entered_on")["exit_mi"].to_list() == [95_000.0, 5_000.0]
    assert records.ledgers[-1].n_accepted == 4


def test_what_else_a_first_failure_brings_in_is_watched_from_then_on(tmp_path: Path) -> None:
    jobs = """
    date       | vehicle | odometer | text
    2013-01-01 | V1      | 80000    | thermostat stuck, not working, renewed
    2016-01-01 | V1      | 95000    | water pump leaking, renewed
    """
    made = told(tmp_path, jobs)
    assert seen(made, "water pump")[0] == ("original", 8.0, 11.0, "failure")


def test_fitments_are_all_accounted_for(tmp_path: Path) -> None:
    for number, (jobs, _) in enumerate(STORIES.values()):
        folder = tmp_path / str(number)
        folder.mkdir()
        made = told(folder, jobs)
        assert made.ledger.n_accepted == made.table.height
