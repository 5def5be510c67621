"""Where the open data lie: beside the checkout, or the test is skipped with its reason."""

import shutil
from pathlib import Path

import pytest

HERE = Path(__file__).parent
DATA = HERE.parents[2] / "shared" / "data"


def open_folder(name: str, to: Path) -> Path:
    """A folder with the set's layout and catalogue beside its data, as a user would have it."""
    if not DATA.is_dir():
        pytest.skip("the open data are not beside this checkout: no folder ../shared/data")
    for path in [*(HERE / name).iterdir(), *DATA.glob("*/*.csv")]:
        shutil.copy(path, to / path.name)
    return to
