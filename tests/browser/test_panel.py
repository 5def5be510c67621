"""The analyst's panel in a real JupyterLab: a control is moved, and the curve follows."""

import json
import os
import secrets
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from socket import socket
from time import sleep
from urllib.error import URLError
from urllib.request import urlopen

import pytest
from playwright.sync_api import Browser

from wornby.reports.parameters import with_parameters

HOME = Path(__file__).parents[2]
PATIENCE = 300_000
"""Milliseconds: the whole notebook is run first."""


@pytest.fixture
def port() -> int:
    """A port of this machine that nobody listens on."""
    with socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@pytest.fixture
def lab(tmp_path: Path, port: int) -> Iterator[str]:
    """A JupyterLab that serves a copy of the analyst's notebook; its address."""
    notebook = json.loads((HOME / "notebooks/analyst.ipynb").read_text("utf-8"))
    cell = next(c for c in notebook["cells"] if "parameters" in c["metadata"].get("tags", []))
    stated = "".join(cell["source"])
    cell["source"] = with_parameters(stated, {"folder": str(HOME / "data_demo")})
    (tmp_path / "analyst.ipynb").write_text(json.dumps(notebook), "utf-8")
    token = secrets.token_hex()
    asked = [
        *(sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root"),
        *(f"--port={port}", f"--IdentityProvider.token={token}"),
        f"--ServerApp.root_dir={tmp_path}",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
    ]
    own = {f"JUPYTER_{kind}_DIR": str(tmp_path / kind) for kind in ("CONFIG", "DATA", "RUNTIME")}
    with (
        (tmp_path / "log").open("w") as log,
        subprocess.Popen(asked, env={**os.environ, **own}, stdout=log, stderr=log) as server,
    ):
        try:
            yield f"http://127.0.0.1:{port}/lab/tree/analyst.ipynb?token={token}"
        finally:
            server.terminate()


def test_choosing_a_component_changes_the_curve(chromium: Browser, lab: str) -> None:
    page = chromium.new_page(viewport={"width": 1280, "height": 1000})
    _wait_until_served(lab)
    page.goto(lab)
    page.get_by_text("| Idle").wait_for(timeout=PATIENCE)
    page.get_by_text("Run", exact=True).first.click()
    page.get_by_text("Run All Cells", exact=True).click()
    panel = page.locator(".widget-vbox")
    panel.wait_for(state="attached", timeout=PATIENCE)
    panel.scroll_into_view_if_needed(timeout=PATIENCE)
    before = panel.locator("img").get_attribute("src")

    panel.locator("select").first.select_option("timing belt", timeout=PATIENCE)

    page.wait_for_function(
        "old => document.querySelector('.widget-vbox img').getAttribute('src') !== old",
        arg=before,
        timeout=PATIENCE,
    )
    assert "timing belt" in (panel.locator("img").get_attribute("alt") or "")
    assert "timing belt, original, all versions" in (panel.text_content() or "")
    page.close()


def _wait_until_served(address: str) -> None:
    """Until the server answers; it takes a few seconds to start."""
    for _ in range(600):
        try:
            urlopen(address).close()
        except URLError:
            sleep(0.2)
        else:
            return
    raise AssertionError("JupyterLab did not start")
