"""The ways of looking that workshop.toml may state, and what it gets wrong of them."""

from pathlib import Path

import pytest
from drawn import WORKSHOP

from wornby.errors import RecordError
from wornby.records.catalogue import Catalogue
from wornby.records.catalogue_file import read_catalogue

LOOK = """
[[look]]
name = "undertray off"
minutes = 15
engine = "cold"
at_service = true
[look.sees]
"water pump" = 0.6
"transfer pipe" = 0.2
"transfer pipe, left" = 0.9
"""


def catalogue(folder: Path, look: str) -> Catalogue:
    (folder / "workshop.toml").write_text(WORKSHOP + look)
    return read_catalogue(folder / "workshop.toml")


def test_a_look_sees_by_component_or_by_place(tmp_path: Path) -> None:
    # common practice, no source: how well a look sees differs from point to point
    look = catalogue(tmp_path, LOOK).looks["undertray off"]
    assert look.chance("water pump") == 0.6
    assert look.chance("transfer pipe", "left") == 0.9
    assert look.chance("transfer pipe", "right") == 0.2
    assert look.chance("thermostat") == 0.0


def test_looks_may_be_left_out(tmp_path: Path) -> None:
    assert catalogue(tmp_path, "").looks == {}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"cold"', '"warm"', "look 'undertray off': engine = 'warm'; use cold or hot"),
        ('"water pump"', '"flux"', "look 'undertray off': no component or place of one 'flux'"),
        ("0.6", "1.5", "sees.water pump = 1.5: wanted above 0 and at most 1"),
        ("0.6", "0", "sees.water pump = 0: wanted above 0 and at most 1"),
        ("15", "-15", "minutes = -15: wanted a number from 0 up"),
        ('engine = "cold"', "who = 1", "unknown key 'who'"),
        ("minutes = 15", "", "no 'minutes'; add it"),
    ],
)
def test_a_wrong_look_is_named(tmp_path: Path, old: str, new: str, said: str) -> None:
    with pytest.raises(RecordError) as caught:
        catalogue(tmp_path, LOOK.replace(old, new, 1))
    assert said in str(caught.value)


def test_services_make_one_look(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="at_service stands in undertray off, on the ramp"):
        catalogue(tmp_path, LOOK + LOOK.replace("undertray off", "on the ramp"))
