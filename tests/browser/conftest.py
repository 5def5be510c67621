"""Debian's Chromium, started once for all tests of pages."""

import os
import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """A browser without a window; where there is none, but not in CI, the tests are skipped."""
    found = shutil.which("chromium")
    if found is None:
        lacking = pytest.fail if os.environ.get("CI") else pytest.skip
        lacking("no chromium on this machine: `apt-get install chromium` brings it")
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=found, args=FLAGS)
        yield browser
        browser.close()
