"""The demo, opened once for every test of the reports that asks for it."""

from pathlib import Path

import pytest

from wornby.reports.workshop import Workshop, open_workshop

DEMO = Path(__file__).parents[2] / "data_demo"


@pytest.fixture(scope="session")
def demo() -> Workshop:
    """The demo's workshop."""
    return open_workshop(DEMO, confidence=0.90, seed=1)
