"""Numbers as people read them."""

import pytest

from wornby.curves.uncertainty import Estimate
from wornby.reports.amounts import amount, estimate_text, money, percent


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (6.34, "years", "6.3"),
        (84_321.0, "miles", "84,300"),
        (951.4, "miles", "951"),
        (float("inf"), "years", "no limit"),
    ],
)
def test_digits_follow_the_unit(value: float, unit: str, said: str) -> None:
    assert amount(value, unit) == said


def test_a_small_chance_is_not_called_nothing() -> None:
    assert percent(0.0004).startswith("below")
    assert percent(0.0).startswith("0")


def test_money_has_its_sign_before_the_currency() -> None:
    assert money(-1234.5, "GBP") == "-£1,234"
    assert money(10, "SEK") == "SEK 10"


def test_an_estimate_out_of_reach_is_a_bound_or_its_reason() -> None:
    assert estimate_text(Estimate(None, 4.3, float("inf"), 0.9, "years")) == "4.3 or more"
    assert estimate_text(Estimate(None, None, None, 0.9, "years", "too few")) == "too few"
