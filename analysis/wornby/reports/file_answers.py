"""Answers on the files themselves: how each was read."""

from pathlib import Path

import polars as pl

from wornby.records.how_read import file_readings
from wornby.records.layout import read_layout
from wornby.reports.answer import Answer

MOST_NAMED = 5


def file_answer(folder: Path | str) -> Answer:
    """What each file of a folder was taken for: form, encoding, header, rows, columns not read."""
    frame = file_readings(Path(folder), read_layout(Path(folder) / "layout.toml"))
    people = [
        {
            "file": row["file"],
            "tables": ", ".join(row["tables"]),
            "read as": row["how"],
            "header in row": str(row["header_row"]),
            "rows": f"{row['rows']:,}",
            "columns not read": _few(row["columns_not_read"]),
        }
        for row in frame.to_dicts()
    ]
    flat = frame.with_columns(pl.col("tables", "columns_not_read").list.join(", "))
    return Answer("How each file was read", pl.DataFrame(people), flat, _notes())


def _few(names: list[str]) -> str:
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _notes() -> tuple[str, ...]:
    return (
        "Where the encoding or what sets cells apart was found out wrongly, write `encoding` or "
        "`separator` under the [[file]] in layout.toml.",
    )
