"""A million job lines from CSV to the curves of all components, in time and memory.

Run by `make bench`, not by `make test`. The bar: 30 s and 3 GiB on two cores.
"""

import resource
import subprocess
import sys
from pathlib import Path

import pytest

MILLION_LINE_VEHICLES = 33_000
READ = (
    "import sys; from wornby import open_workshop; "
    "w = open_workshop(sys.argv[1], confidence=0.9, seed=1); "
    "print(sum(l.n_read for l in w.records.ledgers if l.what == 'job lines'), len(w.original))"
)


@pytest.fixture(scope="module")
def big_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo world with 33,000 vehicles."""
    folder = tmp_path_factory.mktemp("million")
    vehicles = ["--vehicles", str(MILLION_LINE_VEHICLES)]
    subprocess.run([sys.executable, "-m", "wornby.demo", str(folder), *vehicles], check=True)
    return folder


def test_a_million_lines_to_curves(benchmark, big_folder: Path) -> None:  # type: ignore[no-untyped-def]  # pytest-benchmark has no types
    command = [sys.executable, "-c", READ, str(big_folder)]
    told = benchmark.pedantic(
        lambda: subprocess.run(command, check=True, capture_output=True, text=True).stdout,
        rounds=3,
        iterations=1,
    )
    lines, components = (int(number) for number in told.split())
    peak_gib = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 2**20
    print(f"{lines:,} lines, {components} components, peak {peak_gib:.2f} GiB")
    assert lines >= 1_000_000
    assert components == 14
    assert benchmark.stats["median"] < 30
    assert peak_gib < 3
