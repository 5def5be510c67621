"""Nobody can reckon a withheld number from all that a club publishes."""

from pathlib import Path

import polars as pl
import pytest
from survey.attacks import Attack, Withheld, attacked, least_apart
from survey.drawn_clubs import DrawnClub, drawn_clubs

from wornby.survey.thresholds import Thresholds

CLUBS = 200
AT_ONCE = 50
STRICT = Thresholds(minimum_base=15, minimum_cell=8, protection=7)


def assert_nothing_given_away(folder: Path, seeds: range, thresholds: Thresholds) -> int:
    """Attack each club's tables; how many numbers were withheld."""
    withheld = 0
    for club in drawn_clubs(folder, seeds, thresholds):
        assert_large_enough(club)
        for attack, hidden in attacked(club):
            told = zip(hidden, least_apart(attack, hidden, thresholds.protection), strict=True)
            for one, apart in told:
                small = 0 < one.truth < thresholds.minimum_cell
                wanted = thresholds.protection if small else 1
                assert apart >= wanted, f"club {club.number}: {one.where} was {one.truth}"
            assert_left_open_to_who_guesses(attack, hidden, thresholds.minimum_cell)
            withheld += len(hidden)
    return withheld


def assert_left_open_to_who_guesses(
    attack: Attack, hidden: list[Withheld], minimum_cell: int
) -> None:
    """A reader who has guessed which numbers are small ones has two values for each, or more."""
    small = [one for one in hidden if 0 < one.truth < minimum_cell]
    known = Attack(attack.members, [*attack.rows], [*attack.least], [*attack.most])
    for one in small:
        known.told(one.row, 1, minimum_cell - 1)
    for one, apart in zip(small, least_apart(known, small, 1), strict=True):
        assert apart >= 1, f"{one.where} is settled at {one.truth}"


def assert_large_enough(club: DrawnClub) -> None:
    """No number shown is below the thresholds, or on a base below them; nought excepted."""
    published, least = club.published, club.published.thresholds
    assert published.cells["answered"].sum() == club.sheet.height
    assert published.cells.filter(pl.col("answered") < least.minimum_cell).is_empty()
    states = ("renewed", "original", "unsure")
    for table in (published.by_component, published.by_version, published.by_years):
        for row in table.to_dicts():
            shown = [row[name] for name in ("answers", *states) if row[name] is not None]
            assert not any(0 < n < least.minimum_cell for n in shown), row
            if row["answers"] is not None and 0 < row["answers"] < least.minimum_base:
                assert [row[state] for state in states] == [None] * 3, row


@pytest.mark.parametrize("first", range(0, CLUBS, AT_ONCE))
def test_two_hundred_surveys_give_no_withheld_number_away(tmp_path: Path, first: int) -> None:
    """Whole numbers are solved for: each small one is left open by the protection or more."""
    seeds = range(first, first + AT_ONCE)
    assert assert_nothing_given_away(tmp_path, seeds, Thresholds()) > 200


def test_other_thresholds_hold_too(tmp_path: Path) -> None:
    assert assert_nothing_given_away(tmp_path, range(1000, 1015), STRICT) > 50


def test_the_attack_finds_what_a_careless_table_gives_away(tmp_path: Path) -> None:
    """Fill in what was withheld beside the small numbers, and each of them can be reckoned."""
    found = 0
    for club in drawn_clubs(tmp_path, range(3000, 3010), Thresholds()):
        for attack, hidden in attacked(club):
            small = [one for one in hidden if 0 < one.truth < 5]
            for one in hidden:
                if one not in small[:1]:
                    attack.told(one.row, one.truth, one.truth)
            if small:
                found += least_apart(attack, small[:1], 4) == [0.0]
    assert found > 3
