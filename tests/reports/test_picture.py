"""`wornby life --picture`: a component's curve as a file."""

from pathlib import Path
from xml.etree import ElementTree

import pytest

from wornby.cli import main

HOME = Path(__file__).parents[2]


def test_the_picture_in_the_readme_is_what_the_command_draws(tmp_path: Path) -> None:
    drawn = tmp_path / "water_pump.svg"

    asked = ["life", str(HOME / "data_demo"), "--component", "water pump", "--picture", str(drawn)]
    assert main(asked) == 0

    assert ElementTree.parse(drawn).getroot().tag.endswith("svg")
    assert drawn.read_text() == (HOME / "reports" / "water_pump.svg").read_text()
    assert "reports/water_pump.svg" in (HOME / "README.md").read_text("utf-8")


@pytest.mark.parametrize(
    ("options", "wrong"),
    [
        (["--picture", "x.svg"], "goes with --component"),
        (["--component", "water pump", "--picture", "x.png"], "FILE.svg"),
        (["--component", "turbo", "--picture", "x.svg"], "turbo: no such curve; there are clutch"),
    ],
)
def test_a_picture_of_nothing_is_refused(
    capsys: pytest.CaptureFixture[str], options: list[str], wrong: str
) -> None:
    assert main(["life", str(HOME / "data_demo"), *options]) == 1
    assert wrong in capsys.readouterr().err
