"""What the study of disclosure found, as its table says."""

from pathlib import Path

import polars as pl

TABLE = pl.read_csv(Path(__file__).with_name("disclosure.csv"))


def test_no_small_number_is_open_by_less_than_the_protection() -> None:
    assert TABLE["small"].sum() > 500
    assert (TABLE["least_open_by"] >= 4).all()


def test_none_is_settled_for_who_guesses_which_are_small() -> None:
    assert (TABLE["least_open_if_guessed"] >= 1).all()
    assert (TABLE["settled_if_guessed"] == 0).all()


def test_larger_clubs_show_more_of_what_they_were_told() -> None:
    shown = (TABLE["shown"] / (TABLE["shown"] + TABLE["withheld"])).to_list()
    assert shown == sorted(shown)
    assert shown[-1] > 0.75
