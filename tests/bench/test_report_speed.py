"""How long a whole report takes, from its command to its last file; run by `make bench`."""

import resource
import subprocess
import sys
from pathlib import Path
from time import perf_counter

import pytest

VEHICLES_OF_20_000_LINES = 640
BAR_SECONDS = 20.0


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo world with enough vehicles for 20,000 job lines."""
    to = tmp_path_factory.mktemp("workshop")
    vehicles = ["--vehicles", str(VEHICLES_OF_20_000_LINES)]
    subprocess.run([sys.executable, "-m", "wornby.demo", str(to), *vehicles], check=True)
    return to


def test_an_owners_report_of_20_000_lines_takes_less_than_20_seconds(
    folder: Path, tmp_path: Path
) -> None:
    lines = sum(path.read_text("latin-1").count("\n") - 1 for path in folder.glob("job_lines*"))
    start = perf_counter()
    command = [sys.executable, "-m", "wornby.cli", "report", "owner", str(folder)]
    subprocess.run([*command, "--to", str(tmp_path)], check=True, capture_output=True)
    took = perf_counter() - start
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = used.ru_utime + used.ru_stime
    print(f"owner's report, {lines:,} lines: {took:.1f} s, {spent:.1f} s of processor time")
    assert lines >= 20_000
    assert took < BAR_SECONDS
