"""From a notebook to a page that opens anywhere: self-contained, no network."""

import html
import re
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from wornby.errors import RecordError

PARAMETERS = "parameters"
PACKAGE = Path(__file__).parents[1]
NOTEBOOKS = next(p for p in (PACKAGE / "notebooks", PACKAGE.parents[1] / "notebooks") if p.is_dir())
"""Inside an installed package, or beside it in a checkout."""
FOLDER = r"(?m)^folder = .*$"
STYLE = Path(__file__).with_name("page.css")
TIMEOUT_SECONDS = 600


@dataclass(frozen=True, slots=True)
class ReportKind:
    """What a report is called, and whether its reader wants to see the code."""

    title: str
    shows_code: bool


KINDS = {
    "owner": ReportKind("For the workshop's owner", shows_code=False),
    "analyst": ReportKind("For the analyst", shows_code=True),
}


def render_report(name: str, folder: Path, to: Path) -> Path:
    """Run the report's notebook on the folder and write `name`.html.

    The page is written only when every cell has run: after a failure the old page stays, and
    the error is that of the cell, in plain words.
    """
    if name not in KINDS:
        raise ValueError(f"no report {name!r}; there are {', '.join(KINDS)}")
    if not folder.is_dir():
        raise RecordError(f"{folder}: no such folder; give the one with layout.toml")
    notebook = executed(NOTEBOOKS / f"{name}.ipynb", folder=folder.resolve())
    page = page_of(notebook, KINDS[name])
    to.mkdir(parents=True, exist_ok=True)
    path = to / f"{name}.html"
    path.write_text(page, encoding="utf-8")
    return path


def executed(path: Path, *, folder: Path) -> Any:
    """The notebook with its folder parameter set and every cell run."""
    import nbformat
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError

    notebook: Any = nbformat.reads(path.read_text(encoding="utf-8"), as_version=4)  # type: ignore[no-untyped-call]  # nbformat has no types
    cell = next(c for c in notebook.cells if PARAMETERS in c.metadata.get("tags", []))
    written = cell.source
    cell.source = re.sub(FOLDER, f"folder = {str(folder)!r}", written)
    client = NotebookClient(notebook, timeout=TIMEOUT_SECONDS, kernel_name="python3")
    # Sockets on disk instead of ports: nothing listens on the network while a report is made.
    manager = client.create_kernel_manager()
    manager.transport = "ipc"
    with TemporaryDirectory() as sockets:
        manager.ip = str(Path(sockets) / "kernel")
        try:
            client.execute()
        except CellExecutionError as error:
            raise RecordError(f"{path.name}: {error.ename}: {error.evalue}") from None
    # The page names the folder, not where on this machine it lies.
    cell.source = re.sub(FOLDER, f"folder = {folder.name!r}", written)
    return notebook


def page_of(notebook: Any, kind: ReportKind) -> str:
    """One HTML page with its own style, a table of contents and nothing from elsewhere."""
    from nbconvert import HTMLExporter

    exporter = HTMLExporter(template_name="basic")  # type: ignore[no-untyped-call]  # nor has nbconvert
    exporter.exclude_input = not kind.shows_code
    exporter.exclude_input_prompt = exporter.exclude_output_prompt = True
    exporter.exclude_anchor_links = True
    exporter.mathjax_url = exporter.require_js_url = ""
    body, _ = exporter.from_notebook_node(notebook)
    headings = re.findall(r"<h2[^>]*>(.*?)</h2>", body)
    for n, text in enumerate(headings, start=1):
        body = re.sub(rf"<h2[^>]*>{re.escape(text)}</h2>", f'<h2 id="part-{n}">{text}</h2>', body)
    contents = "".join(
        f'<li><a href="#part-{n}">{text}</a></li>' for n, text in enumerate(headings, start=1)
    )
    title = re.search(r"<h1[^>]*>(.*?)</h1>", body)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{title.group(1) if title else html.escape(kind.title)}</title>"
        f"<style>{STYLE.read_text(encoding='utf-8')}</style></head><body>"
        f'<nav aria-label="contents"><p>{html.escape(kind.title)}</p><ol>{contents}</ol></nav>'
        f"<main>{body}</main></body></html>\n"
    )
