"""A report in every form at once: a page, printed pages, a workbook and CSV files, or none."""

import os
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from wornby.errors import RecordError
from wornby.records.conventions import DATES_UNSAID
from wornby.records.layout import read_toml
from wornby.reports.notebook_run import Piece, run_notebook

PACKAGE = Path(__file__).parents[1]
NOTEBOOKS = next(p for p in (PACKAGE / "notebooks", PACKAGE.parents[1] / "notebooks") if p.is_dir())
"""Inside an installed package, or beside it in a checkout."""


@dataclass(frozen=True, slots=True)
class ReportKind:
    """What a report is called, and whether its reader wants to see the code."""

    title: str
    shows_code: bool


KINDS = {
    "owner": ReportKind("For the workshop's owner", shows_code=False),
    "analyst": ReportKind("For the analyst", shows_code=True),
    "club": ReportKind("For the club", shows_code=False),
    "vehicle": ReportKind("For one vehicle", shows_code=False),
    "records": ReportKind("For who keeps the records", shows_code=False),
}


def render_report(
    name: str, folder: Path, to: Path, *, parameters: Mapping[str, object] | None = None
) -> list[Path]:
    """Run the report's notebook on the folder and write NAME.html, .pdf, .xlsx and its tables.

    `parameters` replace others of the notebook's. Files are written only when every cell has
    run and every form is made: after a failure the old report stays, and the error names the
    question that could not be answered.
    """
    if name not in KINDS:
        raise ValueError(f"no report {name!r}; there are {', '.join(KINDS)}")
    if not folder.is_dir():
        raise RecordError(f"{folder}: no such folder; give the one with layout.toml")
    told = {**(parameters or {}), "folder": folder.resolve()}
    pieces = run_notebook(NOTEBOOKS / f"{name}.ipynb", told)
    to.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory(dir=to, prefix=f".{name}-") as made:
        _write_all(name, pieces, Path(made), written=_written(folder))
        return _moved(Path(made), to)


def _write_all(name: str, pieces: Sequence[Piece], to: Path, *, written: Mapping[str, str]) -> None:
    """Every form of the report into one new folder."""
    from wornby.reports.pages import html_page
    from wornby.reports.printed_pages import pdf_pages
    from wornby.reports.spreadsheets import csv_text, file_name, tables_of, workbook

    kind, tables = KINDS[name], tables_of(pieces)
    beside = [f"{name}.pdf", f"{name}.xlsx"]
    page = html_page(pieces, about=kind.title, shows_code=kind.shows_code, beside=beside)
    (to / f"{name}.html").write_text(page, encoding="utf-8")
    printed = pdf_pages(pieces, about=kind.title, shows_code=kind.shows_code)
    (to / f"{name}.pdf").write_bytes(printed)
    (to / f"{name}.xlsx").write_bytes(
        workbook(
            tables,
            currency=written.get("currency"),
            date_format=written.get("date_format", DATES_UNSAID),
        )
    )
    csv_files = to / f"{name}_tables"
    csv_files.mkdir()
    for number, answer in enumerate(tables, start=1):
        path = csv_files / file_name(answer, number)
        path.write_text(csv_text(answer), encoding="utf-8-sig")


def _moved(made: Path, to: Path) -> list[Path]:
    """Put the finished files in the place of the old ones, the page last."""
    finished = sorted(made.iterdir(), key=lambda path: path.suffix == ".html")
    for path in finished:
        target = to / path.name
        if target.is_dir():
            shutil.rmtree(target)
        os.replace(path, target)
    return [to / path.name for path in reversed(finished)]


def _written(folder: Path) -> dict[str, str]:
    """How workshop.toml wants money and days written; the run has refused what cannot be."""
    path = folder / "workshop.toml"
    heading = read_toml(path).get("workshop") if path.is_file() else None
    told = heading if isinstance(heading, dict) else {}
    return {name: text for name, text in told.items() if isinstance(text, str)}
