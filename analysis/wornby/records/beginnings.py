"""The first rows of whatever a folder holds, before anybody has said what they mean."""

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from wornby.errors import RecordError
from wornby.records.decoding import decoded
from wornby.records.separated import SEPARATORS

ROWS = 20_000
"""So many rows are looked at to guess by."""
READ = (".csv", ".txt", ".tsv", ".xlsx", ".parquet")
Row = Sequence[str]


def first_rows(path: Path) -> dict[str | None, list[Row]]:
    """The first rows of each sheet of a file as text; a file without sheets has one, None.

    RecordError where the file is none of these, or cannot be read.
    """
    kind = path.suffix.lower()
    if kind == ".xlsx":
        return _of_workbook(path)
    if kind == ".parquet":
        import polars as pl

        frame = pl.read_parquet(path, n_rows=ROWS).cast(pl.String)
        return {None: [frame.columns, *_texts(frame.rows())]}
    text, _ = decoded(path.name, path.read_bytes(), None)
    return {None: max((_split(text, s) for s in SEPARATORS), key=_evenness)}


def _of_workbook(path: Path) -> dict[str | None, list[Row]]:
    import fastexcel

    try:
        book = fastexcel.read_excel(path)
        return {
            name: _texts(
                book.load_sheet(name, header_row=None, n_rows=ROWS, dtypes="string")
                .to_polars()
                .rows()
            )
            for name in book.sheet_names
        }
    except fastexcel.FastExcelError as error:
        reason = str(error).splitlines()[0]
        raise RecordError(f"{path.name}: cannot be read as a workbook: {reason}") from None


def _texts(rows: Sequence[Sequence[str | None]]) -> list[Row]:
    return [["" if cell is None else cell.strip() for cell in row] for row in rows]


def _split(text: str, separator: str) -> list[Row]:
    reader = csv.reader(io.StringIO(text), delimiter=separator)
    return [[cell.strip() for cell in row] for _, row in zip(range(ROWS), reader, strict=False)]


def _evenness(rows: Sequence[Row]) -> float:
    """How many rows are as wide as most are, times that width less one."""
    widths = [len(row) for row in rows if any(row)]
    usual = max(set(widths), key=widths.count, default=1)
    return widths.count(usual) / max(len(widths), 1) * (usual - 1)
