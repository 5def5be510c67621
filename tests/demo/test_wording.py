"""Words are picked, filled in, mistyped and cased as a busy workshop does."""

import numpy as np
import polars as pl
import pytest

from wornby.demo import WorldParameters
from wornby.demo.dirt import with_thousands
from wornby.demo.phrases import WORDING, filled, pick, slipped
from wornby.demo.places import demo_data
from wornby.demo.plates import registrations


def test_all_wordings_are_picked_about_equally_often() -> None:
    rows = pl.DataFrame({"side": ["left"] * 3_000})
    words = {"left": ["n/s", "nearside", "L/H"]}
    picked = pick(rows, words, by="side", into="word", rng=np.random.default_rng(1))
    counts = picked["word"].value_counts()["count"]
    assert counts.len() == 3
    assert counts.min() > 850  # type: ignore[operator]  # an integer


def test_a_row_without_a_wording_gets_none() -> None:
    rows = pl.DataFrame({"side": ["right"]})
    picked = pick(rows, {"left": ["n/s"]}, by="side", into="word", rng=np.random.default_rng(1))
    assert picked["word"].to_list() == [None]


def test_a_template_is_filled_from_its_columns() -> None:
    rows = pl.DataFrame({"t": ["{name} {why}, replaced"], "name": ["stat"], "why": ["leaking"]})
    assert rows.select(filled("t", ["name", "why"])).item() == "stat leaking, replaced"


@pytest.mark.parametrize("seed", range(20))
def test_a_slip_of_the_fingers_changes_one_or_two_letters(seed: int) -> None:
    slip = slipped("heater matrix", np.random.default_rng(seed))
    assert abs(len(slip) - len("heater matrix")) <= 1
    assert slip.split()[1] == "matrix" or slip.split()[0] == "heater"


def test_short_names_are_typed_right() -> None:
    assert slipped("t/stat"[2:], np.random.default_rng(1)) == "stat"


def test_every_component_of_the_catalogue_has_its_words_and_its_life() -> None:
    names = {component["name"] for component in demo_data("workshop.toml")["component"]}
    assert names == set(WORDING["component"]) == set(WorldParameters().lives)
    for name, words in WORDING["component"].items():
        assert {"one", "odd", "failure", "sound", "complaint", "symptom"} <= set(words), name


def test_registrations_differ_and_have_a_form_never_issued() -> None:
    drawn = registrations(20_000, np.random.default_rng(1))
    assert drawn.n_unique() == 20_000
    assert drawn.str.contains(r"^[A-Z]Q[A-Z] [1-9]\d{4}$").all()


@pytest.mark.parametrize(
    ("plain", "written"),
    [("984", "984"), ("84210", "84,210"), ("1234.5", "1,234.5"), ("-1234.50", "-1,234.50")],
)
def test_thousands_are_set_apart(plain: str, written: str) -> None:
    assert pl.DataFrame({"n": [plain]}).select(with_thousands(pl.col("n"))).item() == written
