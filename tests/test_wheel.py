"""What an owner installs from the folder, without git and make, holds all that wornby needs."""

import subprocess
import sys
from pathlib import Path
from zipfile import ZipFile

import pytest
from hatchling.builders.wheel import WheelBuilder

from wornby.reports.render import KINDS

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "analysis" / "wornby"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> ZipFile:
    """The wheel that pip would make of the folder; nothing is fetched for it."""
    to = tmp_path_factory.mktemp("wheel")
    (built,) = WheelBuilder(str(ROOT)).build(directory=str(to), versions=["standard"])
    return ZipFile(built)


def test_every_file_of_the_package_is_in_the_wheel(wheel: ZipFile) -> None:
    files = {f"wornby/{path.relative_to(PACKAGE).as_posix()}" for path in PACKAGE.rglob("*.*")}
    ours = {name for name in files if "__pycache__" not in name}
    assert {"wornby/reports/page.css", "wornby/records/starter/workshop.toml"} <= ours
    assert ours <= {*wheel.namelist()}


def test_every_report_s_notebook_is_in_the_wheel(wheel: ZipFile) -> None:
    for kind in KINDS:
        inside = wheel.read(f"wornby/notebooks/{kind}.ipynb")
        assert inside == (ROOT / "notebooks" / f"{kind}.ipynb").read_bytes()


def test_the_wheel_holds_nothing_else_and_brings_the_command(wheel: ZipFile) -> None:
    told = {name.split("/")[0] for name in wheel.namelist()}
    about = next(name for name in told if name.endswith(".dist-info"))
    assert told == {"wornby", about}
    entries = wheel.read(f"{about}/entry_points.txt").decode()
    assert "wornby = wornby.cli:main" in entries


def test_the_package_runs_where_its_script_is_not_on_the_path(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "wornby", "start", "vans"]
    told = subprocess.run(command, cwd=tmp_path, check=True, capture_output=True, text=True)
    assert told.stdout.startswith("Started vans")
    assert (tmp_path / "vans" / "layout.toml").is_file()
