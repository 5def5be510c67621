"""Heaping: Whipple's index is 100 where no digit is preferred, and 500 where all end in 0 or 5.

Both values are the index's own definition (United Nations, Demographic Yearbook, technical notes;
recalled from memory).
"""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from wornby.survey.heaps import heaping


def test_the_index_is_100_without_and_500_with_nothing_but_round_ones() -> None:
    even = heaping("years", list(range(2008, 2018)) * 10, round_to=5, step=1)
    assert (even.index, even.found) == (100.0, False)
    only = heaping("years", [2010] * 20, round_to=5, step=1)
    assert (only.index, only.found) == (500.0, True)


def test_the_chance_of_a_find_is_the_binomials() -> None:
    """R: binom.test(9, 12, 0.2, alternative = "greater")$p.value is 6.219776e-05."""
    told = heaping("years", [2010] * 9 + [2009, 2011, 2012], round_to=5, step=1)
    assert abs(told.p_value - 6.219776e-05) < 1e-10


def test_a_round_that_reaches_past_the_answer_does_not_count() -> None:
    """Nobody can have said 2021 or 2022 in 2020, so 2018 to 2020 alone would look heaped."""
    told = heaping("years", [2018, 2019, 2020] * 30, round_to=5, step=1, latest=2020)
    assert (told.named, told.found) == (0, False)


def test_tens_of_thousands_are_weighed_against_the_fives_between() -> None:
    miles = [60_000, 70_000, 80_000, 90_000, 85_000, 62_000]
    told = heaping("distances", miles, round_to=10_000, step=5_000)
    assert (told.named, told.round_ones, told.index) == (5, 4, 160.0)


@given(st.integers(0, 2**32 - 1))
def test_answers_that_do_not_heap_are_seldom_taken_as_heaped(seed: int) -> None:
    """Over the seeds that are tried; the test itself allows one in a hundred."""
    rng = np.random.default_rng(seed)
    found = [
        heaping("years", rng.integers(2003, 2023, 200).tolist(), round_to=5, step=1).found
        for _ in range(40)
    ]
    assert sum(found) <= 5
