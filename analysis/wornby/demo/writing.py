"""Writing the demo folder: the only place of the demo that touches the disk."""

from datetime import datetime
from pathlib import Path

import polars as pl
import xlsxwriter

from wornby.demo.export import OLD_FILE, Records
from wornby.demo.places import DATA

MOST_ROWS = 1_048_575  # one sheet of a workbook, less its header; common practice, no source
SHEET = "Intake and service checks"
NOTES = (
    "Saltmarsh Van Works: checks of vans. Invented, like everything in this folder.",
    "OK / Advisory / Fail is the condition found; 'Original part?' is judged by eye.",
)


def write_records(records: Records, folder: Path) -> None:
    """Write every table and the three text files to the folder, and the truth below it."""
    (folder / "truth").mkdir(parents=True, exist_ok=True)
    for name in ("workshop.toml", "layout.toml", "disclosure.toml"):
        (folder / name).write_bytes(DATA.joinpath(name).read_bytes())
    for name, table in records.files.items():
        if name.endswith(".xlsx"):
            write_sheet(table, folder / name)
        else:
            (folder / name).write_bytes(csv_bytes(name, table))
    for name, table in records.truth.items():
        table.write_csv(folder / "truth" / name)


def csv_bytes(name: str, table: pl.DataFrame) -> bytes:
    """The table as its program exports it; the old one writes semicolons in Windows' code page."""
    if name == OLD_FILE:
        return table.write_csv(separator=";").encode("cp1252")
    return table.write_csv().encode("utf-8")


def write_sheet(table: pl.DataFrame, path: Path) -> None:
    """Write the inspections as a workbook with a sheet of notes before them."""
    if table.height > MOST_ROWS:
        raise ValueError(
            f"{path.name}: {table.height} rows, but a sheet holds {MOST_ROWS}; want fewer vehicles"
        )
    with xlsxwriter.Workbook(
        path, {"constant_memory": True, "default_date_format": "dd/mm/yyyy"}
    ) as book:
        book.set_properties({"created": datetime(2025, 1, 6), "author": "Saltmarsh Van Works"})
        notes, sheet = book.add_worksheet("Notes"), book.add_worksheet(SHEET)
        for row, note in enumerate(NOTES):
            notes.write_string(row, 0, note)
        sheet.write_row(0, 0, table.columns)
        for row, values in enumerate(table.iter_rows(), start=1):
            sheet.write_row(row, 0, values)
