"""Answers drawn as tables, and beside them what they say of a life: from, working until, ended by.

Each van is of 2010 unless the row says more, and each answer is given on 31 December 2020. Ages
are years since first registration; a van known by its model year alone is 10 to 11 years old.
"""

import math
from dataclasses import replace
from pathlib import Path

import pytest
from survey.told import one_life, told_lives, told_survey

from wornby.survey.survey_rules import CLUB, survey_variants

INF = math.inf
FIRST = replace(CLUB, dated="the first renewal")
SWORN = replace(CLUB, one_sided="at the end of what the age may be")
BOUGHT = replace(FIRST, watched_from="from when bought")

STORIES = {
    # year | registered | bought | miles | state | when
    "still original: as old as the van, more or less, and going":
        ("2010 | | | | original |", (0, 10.5, INF)),
    "still original, registration known: just as old as the van":
        ("2010 | 2010-12-31 | | | still original |", (0, 10.0, INF)),
    "renewed once in a year: that year, less the year of registration":
        ("2010 | | | | renewed once | 2019", (0, 8.0, 10.0)),
    "renewed once in a year, registration known: within that year":
        ("2010 | 2010-01-01 | | | renewed once | 2019", (0, 9.0, 10.0)),
    "renewed once on a day, registration known: just then":
        ("2010 | 2010-01-01 | | | renewed once | 1 July 2015", (0, 5.5, 5.5)),
    "renewed once in a month":
        ("2010 | 2010-01-01 | | | renewed once | March 2015", (0, 5.2, 5.2)),
    "renewed once in spring: March to May":
        ("2010 | 2010-01-01 | | | renewed once | spring 2019", (0, 9.2, 9.4)),
    "about 2017: a year either way":
        ("2010 | 2010-01-01 | | | renewed once | about 2017", (0, 6.0, 9.0)),
    "renewed, don't know when: at some time before the answer":
        ("2010 | 2010-12-31 | | | renewed | don't know", (0, 0.0, 10.0)),
    "renewed, don't know when, registration by the year: by the middle of what the age may be":
        ("2010 | | | | renewed |", (0, 0.0, 10.5)),
    "before I had it: by the time it was bought":
        ("2010 | 2010-01-01 | 2016-01-01 | | renewed once | before I had it", (0, 0.0, 6.0)),
    "before I had it, bought when not said: by the answer":
        ("2010 | 2010-12-31 | | | renewed once | before I had it", (0, 0.0, 10.0)),
    "renewed once or more, one date: the latest, so the first was some time before the answer":
        ("2010 | 2010-12-31 | | | renewed | 2019", (0, 0.0, 10.0)),
    "renewed once or more, the latest before I had it: some time before the answer":
        ("2010 | 2010-12-31 | 2016-01-01 | | renewed | before I had it", (0, 0.0, 10.0)),
    "two dates: the first is the original's":
        ("2010 | 2010-01-01 | | | renewed | 2014 and 2019", (0, 4.0, 5.0)),
    "before 2015: by then":
        ("2010 | 2010-01-01 | | | renewed once | before 2015", (0, 0.0, 6.0)),
    "three years ago: half a year either way":
        ("2010 | 2010-12-31 | | | renewed once | 3 years ago", (0, 6.5, 7.5)),
    "at a distance, for what wears by age: at the van's own pace, give or take a quarter":
        ("2010 | 2010-12-31 | | 100,000 | renewed once | at 50,000 miles", (0, 3.7, 6.3)),
    "the year in the state's own cell":
        ("2010 | 2010-01-01 | | | renewed once 2015 |", (0, 5.0, 6.0)),
    "a year before the van was built: set aside":
        ("2010 | | | | renewed once | 2005", "renewed before it was registered"),
    "a year after the answer: set aside":
        ("2010 | | | | renewed once | 2023", "renewed after the answer"),
    "a model year after the answer: set aside":
        ("2022 | | | | original |", "vehicle newer than the answer"),
    "more miles than the odometer shows: set aside":
        ("2010 | | | 60,000 | renewed once | 85k", "renewed at more than the odometer shows"),
    "don't know: nothing":
        ("2010 | | | | don't know |", "not read"),
}  # fmt: skip


@pytest.mark.parametrize("story", STORIES)
def test_what_an_answer_says_of_a_life(tmp_path: Path, story: str) -> None:
    member, life = STORIES[story]
    assert one_life(tmp_path, member) == life


BY_DISTANCE = {
    "still original: as far as the odometer":
        ("2010 | | | 84,000 | original |", (0, 84_000, INF)),
    "at so many miles: to the nearest thousand":
        ("2010 | | | 100,000 | renewed once | at 85,000 miles", (0, 84_500, 85_500)),
    "80-90k":
        ("2010 | | | 100,000 | renewed once | 80-90k", (0, 80_000, 90_000)),
    "about 60k: a tenth either way":
        ("2010 | | | 100,000 | renewed once | about 60k", (0, 53_550, 66_550)),
    "at 50,000 km":
        ("2010 | | | 100,000 | renewed once | 50,000 km", (0, 30_758, 31_379)),
    "in the middle of its life by date: half its distance, give or take a quarter":
        ("2010 | 2010-12-31 | | 100,000 | renewed once | 2015-12-31", (0, 37_490, 62_483)),
    "renewed at a time unknown: by what the odometer shows":
        ("2010 | | | 100,000 | renewed |", (0, 0, 100_000)),
    "no odometer: nothing":
        ("2010 | | | | original |", "no odometer, and it wears by distance"),
}  # fmt: skip


@pytest.mark.parametrize("story", BY_DISTANCE)
def test_what_an_answer_says_of_a_distance(tmp_path: Path, story: str) -> None:
    member, life = BY_DISTANCE[story]
    assert one_life(tmp_path, member, component="timing belt") == life


def test_the_first_renewal_may_be_what_the_form_asks_for(tmp_path: Path) -> None:
    member = "2010 | 2010-01-01 | | | renewed | 2019"
    assert one_life(tmp_path, member, rule=FIRST) == (0, 9.0, 10.0)


def test_bounds_that_can_be_sworn_to_take_the_year_of_registration_whole(tmp_path: Path) -> None:
    assert one_life(tmp_path, "2010 | | | | original |", rule=SWORN) == (0, 10.0, INF)
    assert one_life(tmp_path, "2010 | | | | renewed |", rule=SWORN) == (0, 0.0, 11.0)


def test_an_owner_may_be_believed_only_from_when_the_van_was_bought(tmp_path: Path) -> None:
    van = "2010 | 2010-01-01 | 2016-01-01 | |"
    assert one_life(tmp_path, f"{van} original |", rule=BOUGHT) == (6.0, 11.0, INF)
    assert one_life(tmp_path, f"{van} renewed once | 2019", rule=BOUGHT) == (6.0, 9.0, 10.0)
    before = one_life(tmp_path, f"{van} renewed once | before I had it", rule=BOUGHT)
    assert before == "ended before watching began"
    unsaid = one_life(tmp_path, "2010 | | | | original |", rule=BOUGHT)
    assert unsaid == "bought when not told"


def test_who_is_believed_from_when_the_van_was_bought_must_date_the_first_renewal() -> None:
    with pytest.raises(ValueError, match="is then not known"):
        replace(CLUB, watched_from="from when bought")


MEMBERS = "who | year | registered\nm1 | 2010 | 2010-01-01\nm2 | 2010 | 2010-01-01"


def test_one_cell_may_name_several_components(tmp_path: Path) -> None:
    parts = "who | part | state | when\nm1 | Pump, stat | renewed once | 2015"
    lives = told_lives(tmp_path, members=MEMBERS, parts=parts)
    assert sorted(lives.counts) == ["thermostat", "water pump"]
    assert lives.ledger.n_read == 2


def test_why_it_was_renewed_decides_whether_a_life_ended(tmp_path: Path) -> None:
    parts = """
    who | part | state        | when | why
    m1  | pump | renewed once | 2015 | leaking
    m2  | pump | renewed once | 2017 | as a precaution
    """
    strict = survey_variants(CLUB)["only those said to have failed count"]
    lives = told_lives(tmp_path, members=MEMBERS, parts=parts, rule=strict).lives
    told = lives.select("lower", "upper").sort("lower").rows()
    assert [round(b, 1) for row in told for b in row] == [5.0, 6.0, 7.0, INF]


def test_a_second_renewal_is_a_life_of_its_own_and_the_last_part_goes_on(tmp_path: Path) -> None:
    parts = """
    who | part | state   | when
    m1  | pump | renewed | 2014
    m1  | pump | renewed | 2019
    """
    lives = told_lives(tmp_path, members=MEMBERS, parts=parts)
    assert lives.lives.select("lower", "upper").row(0) == pytest.approx((4.0, 5.0), abs=0.01)
    later = lives.renewed["water pump"].table.select("lower", "upper").rows()
    assert later[0] == pytest.approx((1.5, INF), abs=0.01)
    assert later[1] == pytest.approx((4.0, 6.0), abs=0.01)


def test_original_and_renewed_at_once_is_nothing(tmp_path: Path) -> None:
    parts = "who | part | state | when\nm1 | pump | original |\nm1 | pump | renewed | 2015"
    survey = told_survey(tmp_path, members=MEMBERS, parts=parts)
    assert survey.ledgers[-1].set_aside == {"original and renewed": 2}
