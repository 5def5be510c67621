"""The parameters of a report, set from the command line."""

from typing import Any

import pytest

from wornby.reports.parameters import parameters_of, typed_parameters, with_parameters

CELL = """from wornby import *

folder = "../data_demo"
age_years = 14.0
registration = None
renewed = {"water pump": 3.0}
sound = [
    "thermostat",
]
"""


def test_what_is_not_named_stays_as_the_notebook_states_it() -> None:
    changed = with_parameters(CELL, {"age_years": 9})

    assert changed == CELL.replace("14.0", "9.0").rstrip("\n")


def test_every_parameter_can_be_set_and_read_back() -> None:
    given = {
        "folder": "mine",
        "age_years": 3.5,
        "registration": "QQQ 12345",
        "renewed": {"timing belt": 1},
        "sound": ["water pump"],
    }

    assert parameters_of(with_parameters(CELL, given)) == given


def test_text_cannot_break_out_of_its_place() -> None:
    hostile = "x\"\nimport os; os.remove('records')\n#"

    assert parameters_of(with_parameters(CELL, {"folder": hostile}))["folder"] == hostile
    assert "\nimport os" not in with_parameters(CELL, {"folder": hostile})


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("age_years=14", 14),
        ("age_years=14.5", 14.5),
        ("registration=QQQ 12345", "QQQ 12345"),
        ("sound=['water pump']", ["water pump"]),
        ("renewed={ 'water pump' = 3 }", {"water pump": 3}),
    ],
)
def test_values_are_typed_as_in_toml_or_as_plain_text(typed: str, value: Any) -> None:
    assert list(typed_parameters([typed]).values()) == [value]


@pytest.mark.parametrize("pair", ["age_years", "=14", "age years=14"])
def test_what_is_no_pair_is_named(pair: str) -> None:
    with pytest.raises(ValueError, match="wanted NAME=VALUE"):
        typed_parameters([pair])


@pytest.mark.parametrize(
    ("given", "wrong"),
    [
        ({"ages": 3}, "no parameter 'ages'; there are folder, age_years, registration"),
        ({"age_years": "old"}, "parameter age_years = 'old': wanted a number, such as 14.0"),
        ({"age_years": True}, "parameter age_years = True: wanted a number"),
        ({"renewed": ["water pump"]}, "wanted a table, such as {'water pump': 3.0}"),
    ],
)
def test_what_a_report_cannot_take_is_named(given: dict[str, Any], wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        with_parameters(CELL, given)
