"""How soon wornby answers at all: a fresh interpreter each time, the best of five."""

import os
import subprocess
import sys
import time
from pathlib import Path

ANALYSIS = Path(__file__).parents[2] / "analysis"
HELP_SECONDS = 0.3
IMPORT_SECONDS = 1.0


def least_seconds(*words: str) -> float:
    """The shortest of five runs, which a busy machine lengthens least."""
    taken = []
    for _ in range(5):
        start = time.perf_counter()
        subprocess.run(
            [sys.executable, *words], check=True, capture_output=True,
            env={**os.environ, "PYTHONPATH": str(ANALYSIS)},
        )  # fmt: skip
        taken.append(time.perf_counter() - start)
    return min(taken)


def test_help_comes_at_once() -> None:
    assert least_seconds("-m", "wornby.cli", "--help") < HELP_SECONDS


def test_import_is_quick() -> None:
    assert least_seconds("-c", "import wornby") < IMPORT_SECONDS
