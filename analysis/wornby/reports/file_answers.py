"""Answers on the files themselves: how each was read, and what pasted cells hold."""

from pathlib import Path

import polars as pl

from wornby.records.how_read import file_readings
from wornby.records.layout import read_layout
from wornby.records.pasted import pasted_table
from wornby.records.proposal import columns_named
from wornby.reports.answer import Answer

MOST_NAMED = 5
PASTED_NOTES = (
    'To keep them: `pasted_table("""...""", to="FOLDER/job_lines.csv")` writes a file that is not '
    "there yet. For a new folder `wornby start FOLDER` then writes a layout.toml; in one that has "
    "it, name the file there.",
)


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


def pasted_answer(text: str | None = None) -> Answer:
    """What cells copied with their header hold, and what each column is taken for.

    The cells are those in the text, or else on the clipboard, read as `pasted_table` reads them.
    RecordError as it.
    """
    table = pasted_table(text)
    ours = {theirs: name for name, theirs in columns_named(tuple(table.columns)).items()}
    filled = {name: cells.drop_nulls() for name, cells in table.to_dict().items()}
    frame = pl.DataFrame(
        [
            (name, ours.get(name), len(cells), table.height, cells.first() if len(cells) else None)
            for name, cells in filled.items()
        ],
        schema={"column": pl.String, "taken_for": pl.String, "filled": pl.Int64, "rows": pl.Int64}
        | {"first": pl.String},
        orient="row",
    )
    people = frame.select(
        "column",
        pl.col("taken_for").fill_null("not guessed").alias("taken for"),
        pl.format("{} of {}", "filled", "rows").alias("filled"),
        pl.col("first").fill_null("").alias("first filled cell"),
    )
    return Answer("The cells that were pasted", people, frame, PASTED_NOTES)


def _few(names: list[str]) -> str:
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _notes() -> tuple[str, ...]:
    return (
        "Where the encoding or what sets cells apart was found out wrongly, write `encoding` or "
        "`separator` under the [[file]] in layout.toml.",
    )
