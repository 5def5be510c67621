"""When and how far, in the words of owners; the spans are what a reader of the words would say."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wornby.survey.told_states import read_state
from wornby.survey.told_when import When, read_day, read_when

DAYS = {
    "2019": ("2019-01-01", "2019-12-31"),
    "In 2019.": ("2019-01-01", "2019-12-31"),
    "c. 2019": ("2019-01-01", "2019-12-31"),
    "'19": ("2019-01-01", "2019-12-31"),
    "2019.0": ("2019-01-01", "2019-12-31"),
    "spring 2019": ("2019-03-01", "2019-05-31"),
    "Winter 2018": ("2018-01-01", "2019-02-28"),
    "early 2020": ("2020-01-01", "2020-06-30"),
    "March 2019": ("2019-03-01", "2019-03-31"),
    "03/2019": ("2019-03-01", "2019-03-31"),
    "03/04/2019": ("2019-04-03", "2019-04-03"),
    "3rd March 2019": ("2019-03-03", "2019-03-03"),
    "March 12, 2019": ("2019-03-12", "2019-03-12"),
    "2019-03-01 00:00:00": ("2019-03-01", "2019-03-01"),
    "2018/19": ("2018-01-01", "2019-12-31"),
    "2018 or 2019": ("2018-01-01", "2019-12-31"),
    "between 2017 and 2019": ("2017-01-01", "2019-12-31"),
    "2009-10": ("2009-01-01", "2010-12-31"),
    "2009-12": ("2009-12-01", "2009-12-31"),
}
MILES = {
    "80-90k": (80_000, 90_000),
    "80k to 90k": (80_000, 90_000),
    "at 85000 miles": (84_500, 85_500),
    "85k": (84_500, 85_500),
    "85,321": (85_320.5, 85_321.5),
    "85 000 mi": (84_500, 85_500),
    "about 160,934 km": (160_933.5 / 1.609344, 160_934.5 / 1.609344),
}
NOTHING_SAID = ("don't know", "Don’t know when", "?", "not sure", "n/k", "no record")
NOT_UNDERSTOOD = ("ask my brother", "19", "43831", "31/02/2019", "2020-2019", "85", "2019 or 85k")


def whens(text: str, order: str = "day first") -> tuple[When, ...] | None:
    """What a cell says under the layout of a British form."""
    return read_when(text, order=order, unit="mi")


def day(days: float | None) -> str:
    """A day since 1970 as written."""
    return str(date(1970, 1, 1) + timedelta(days=int(days or 0)))


@pytest.mark.parametrize("text", DAYS)
def test_a_time_is_from_a_first_day_to_a_last(text: str) -> None:
    (when,) = whens(text) or ()
    assert when.time is not None
    assert when.distance is None
    assert (day(when.time.low), day(when.time.high)) == DAYS[text]


@pytest.mark.parametrize("text", MILES)
def test_a_distance_is_to_the_place_of_its_last_digit(text: str) -> None:
    (when,) = whens(text) or ()
    assert when.distance is not None
    assert when.time is None
    assert (when.distance.low, when.distance.high) == pytest.approx(MILES[text])


@pytest.mark.parametrize("text", ["about 2019", "~2019", "2019ish", "2019?", "circa 2019 or so"])
def test_about_is_understood_however_it_is_said(text: str) -> None:
    (when,) = whens(text) or ()
    assert when.time is not None
    assert (when.time.about, when.time.named) == (True, 2019)


@pytest.mark.parametrize(
    "text", ["before I had it", "Before I bought it.", "previous owner", "by the previous owner"]
)
def test_before_it_was_bought_is_no_date(text: str) -> None:
    (when,) = whens(text) or ()
    assert when.time is not None
    assert when.time.kind == "before bought"


@pytest.mark.parametrize("text", NOTHING_SAID)
def test_who_says_that_he_does_not_know_is_understood(text: str) -> None:
    assert whens(text) == ()


@pytest.mark.parametrize("text", NOT_UNDERSTOOD)
def test_what_may_mean_two_things_or_none_is_not_guessed(text: str) -> None:
    assert whens(text) is None


def test_a_day_whose_order_no_layout_tells_is_either() -> None:
    (when,) = whens("03/04/2019", order="year first") or ()
    assert when.time is not None
    assert (day(when.time.low), day(when.time.high)) == ("2019-03-04", "2019-04-03")


def test_a_date_with_a_distance_is_one_renewal_and_two_dates_are_two() -> None:
    (both,) = whens("2019 at 85k") or ()
    assert both.time is not None
    assert both.distance is not None
    first, second = whens("2015, then about 2021") or whens("2015 and about 2021") or ()
    assert first.time is not None
    assert second.time is not None
    assert (first.time.named, second.time.named, second.time.about) == (2015, 2021, True)


def test_a_spreadsheets_count_of_days_is_a_day_where_only_a_day_can_stand() -> None:
    """43831 is 1 January 2020 in a spreadsheet that counts from 1900."""
    span = read_day("43831", order="year first")
    assert span is not None
    assert day(span.low) == "2020-01-01"


@given(st.text(max_size=40), st.sampled_from(["day first", "month first", "year first"]))
def test_whatever_is_written_is_read_without_fuss_and_never_backwards(
    text: str, order: str
) -> None:
    read_state(text)
    for when in read_when(text, order=order, unit="mi") or ():
        for span in (when.time, when.distance):
            if span is not None and span.low is not None and span.high is not None:
                assert span.low <= span.high


PIECES = st.sampled_from(
    ["2019", "about", "80", "k", "-", "before", "2015", "and", "/", "miles", "3", "March", "?",
     "'9", "years ago", ",", "85000", "or", "after", "spring", "I had it", "00", "between"]
)  # fmt: skip


@given(st.lists(PIECES, max_size=6))
def test_pieces_of_dates_and_distances_in_any_order_are_never_backwards(pieces: list[str]) -> None:
    for when in whens(" ".join(pieces)) or ():
        for span in (when.time, when.distance):
            if span is not None and span.low is not None and span.high is not None:
                assert span.low <= span.high
