"""What a workshop's own words mean. Common practice, no source: how job lines are written."""

import polars as pl
import pytest
from drawn import WORKSHOP

from wornby.records.catalogue_file import read_catalogue
from wornby.records.wording import read_texts, words_pattern


@pytest.fixture
def say(tmp_path):  # type: ignore[no-untyped-def]  # returns the function under test
    """What one text says of each component: component -> what is true of it."""
    (tmp_path / "workshop.toml").write_text(WORKSHOP)
    catalogue = read_catalogue(tmp_path / "workshop.toml")
    flags = ["renewed", "failing", "degraded", "preventive", "sound"]

    def read(text: str) -> dict[str, set[str]]:
        named, _ = read_texts(pl.Series([text]), catalogue)
        return {row["component"]: {f for f in flags if row[f]} for row in named.to_dicts()}

    return read


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("water pump leaking, renewed", {"water pump": {"failing", "renewed"}}),
        ("water pump ok, no leak", {"water pump": {"sound"}}),
        ("WATER  PUMP no good", {"water pump": {"failing"}}),
        ("thermostat not working, fit new", {"thermostat": {"failing", "renewed"}}),
        ("washer water pump renewed", {}),
        ("supply & fit thermostat", {"thermostat": {"renewed"}}),
        ("status report printed", {}),
        (
            "renew thermostat and water pump",
            {"thermostat": {"renewed"}, "water pump": {"renewed"}},
        ),
        (
            "thermostat, water pump renewed as a precaution",
            {
                "thermostat": {"renewed", "preventive"},
                "water pump": {"renewed", "preventive"},
            },
        ),
        (
            "water pump weeping, renewed; thermostat good",
            {"water pump": {"degraded", "renewed"}, "thermostat": {"sound"}},
        ),
        (
            "renew water pump - leaking - and thermostat while in there",
            {"water pump": {"failing", "renewed"}, "thermostat": {"renewed", "preventive"}},
        ),
        ("water pump not renewed", {"water pump": set()}),
        ("leaking: coolant pump", {"water pump": {"failing"}}),
    ],
)
def test_a_line_says_what_a_mechanic_would_read_in_it(say, text, expected):  # type: ignore[no-untyped-def]
    assert say(text) == expected


def test_a_word_matches_whole_words_and_a_star_any_ending() -> None:
    texts = pl.Series(["stat", "status", "stats", "n/s/f hose"])
    assert texts.str.contains(words_pattern(["stat"])).to_list() == [True, False, False, False]
    assert texts.str.contains(words_pattern(["stat*"])).to_list() == [True, True, True, False]
    assert texts.str.contains(words_pattern(["n/s"])).to_list() == [False, False, False, True]


def test_no_words_match_nothing() -> None:
    assert not pl.Series(["anything", ""]).str.contains(words_pattern([])).any()
