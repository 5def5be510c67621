"""Edits of a folder's own files that would have more of its rows used, each ready to copy."""

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from wornby.records.layout import FileLayout
from wornby.records.layout_writing import toml_text
from wornby.records.loading import header_names, layout_sheets
from wornby.records.proposal import TAKEN, VOCABULARY, columns_named
from wornby.records.reading import Records
from wornby.records.starting import TAKEN_AS_ORIGINAL, last_regular_day
from wornby.records.value_guesses import guessed_words
from wornby.records.values import read_date
from wornby.records.word_edits import WordEdit, new_components, spellings_to_add

CATALOGUE, LAYOUT = "workshop.toml", "layout.toml"
AFTER_CLOSE = "date after the close of records"
NOT_UNDERSTOOD = {"kind not understood": "kind", "condition not understood": "condition"}
NO_VEHICLE = {
    "vehicle not in vehicles": "at the end of the file",
    "first registered unknown": "in place of the rows of these vehicles",
}
MOST_VEHICLES = 5
FIRST_REGISTERED = "YYYY-MM-DD"
EVEN_THEN = {"kind": "other", "condition": "sound"}


@dataclass(frozen=True, slots=True)
class Edit:
    """A line to write into a file, under which heading, and how many rows it gains."""

    file: str
    under: str
    line: str
    rows: int
    because: str


def helpful_edits(
    folder: Path, records: Records, layouts: Sequence[FileLayout]
) -> tuple[Edit, ...]:
    """Every edit that would gain rows, the one that gains most first."""
    found = [
        *_words(spellings_to_add(records.unplaced, records.catalogue)),
        *_words(new_components(records.unplaced, records.catalogue)),
        *_unread_columns(folder, layouts),
        *_cell_words(records.problems),
        *_later_close(records, layouts),
        *_originals(records),
        *_vehicles(folder, records.problems, layouts),
    ]
    return tuple(sorted(found, key=lambda edit: (-edit.rows, edit.file, edit.line)))


def _words(edits: Sequence[WordEdit]) -> Iterator[Edit]:
    for edit in edits:
        yield Edit(CATALOGUE, edit.under, edit.line, edit.rows, edit.because)


def _unread_columns(folder: Path, layouts: Sequence[FileLayout]) -> Iterator[Edit]:
    """Columns of a file that nothing reads, and that its headers seem to name."""
    for layout in (layout for layout in layouts if layout.table in TAKEN):
        used = {theirs for headers in layout.columns.values() for theirs in headers}
        sheets = [sheet.frame for _, sheet in layout_sheets(folder, layout)]
        named = columns_named([h for h in sheets[0].columns if h not in used])
        for ours, theirs in named.items():
            if ours not in TAKEN[layout.table] or ours in {*layout.columns, *layout.constants}:
                continue
            cells = [frame[theirs] for frame in sheets if theirs in frame.columns]
            rows = sum(int((c.str.strip_chars().fill_null("") != "").sum()) for c in cells)
            if rows:
                yield Edit(
                    LAYOUT, f"[file.columns] of {layout.path}", f"{ours} = {toml_text(theirs)}",
                    rows, f"nothing reads its column {theirs!r}",
                )  # fmt: skip


def _cell_words(problems: pl.DataFrame) -> Iterator[Edit]:
    """Words of a column that are none of ours."""
    odd = problems.filter(pl.col("reason").is_in(list(NOT_UNDERSTOOD)))
    counted = odd.drop_nulls("value").group_by("file", "reason", "value").len()
    for file, reason, value, rows in counted.sort("len", "value", descending=True).iter_rows():
        column = NOT_UNDERSTOOD[reason]
        ours = guessed_words([value], VOCABULARY["words"][column]).get(value, EVEN_THEN[column])
        line = f"{toml_text(value)} = {toml_text(ours)}"
        yield Edit(LAYOUT, f"[file.words.{column}] of {file}", line, rows, reason)


def _later_close(records: Records, layouts: Sequence[FileLayout]) -> Iterator[Edit]:
    """A close of records before the last regular day."""
    late = records.problems.filter(pl.col("reason") == AFTER_CLOSE)
    orders = {layout.dates for layout in layouts if layout.table == "job_lines"}
    read = [read_date("value", FileLayout("job_lines", "", {}, dates=order)) for order in orders]
    if late.is_empty() or not read:
        return
    days = late.select(pl.coalesce(read)).to_series().drop_nulls()
    last = last_regular_day([*records.lines["date"], *days])
    if last is not None and last > records.catalogue.records_until:
        rows = int((days <= last).sum())
        yield Edit(CATALOGUE, "[workshop]", f"records_until = {last}", rows, AFTER_CLOSE)


def _originals(records: Records) -> Iterator[Edit]:
    """A rule that waits for looks which nobody has noted."""
    told = records.sightings.filter(pl.col("job").is_not_null())
    waits = records.catalogue.observation_rule == "workshop"
    if waits and told.height and "original" not in records.sightings["origin"]:
        line = f"observation_rule = {toml_text(TAKEN_AS_ORIGINAL)}"
        because = "no inspection says which parts are original, so no original is watched"
        yield Edit(CATALOGUE, "[workshop]", line, told.height, because)


def _vehicles(
    folder: Path, problems: pl.DataFrame, layouts: Sequence[FileLayout]
) -> Iterator[Edit]:
    """Rows of the vehicles table for those whose first registration most lines wait for."""
    listed = [x for x in layouts if x.table == "vehicles" and x.path.lower().endswith(".csv")]
    waiting = problems.filter(pl.col("reason").is_in(list(NO_VEHICLE))).drop_nulls("value")
    if not listed or waiting.is_empty() or "*" in listed[0].path:
        return
    headers = header_names(folder, listed[0])
    given = {name: theirs[0] for name, theirs in listed[0].columns.items()}
    day = "the day, or the year alone," if listed[0].dates == "year" else "the day"
    for reason, where in NO_VEHICLE.items():
        counted = waiting.filter(pl.col("reason") == reason).group_by("value").len()
        most = counted.sort("len", "value", descending=[True, False]).head(MOST_VEHICLES)
        rows = [
            dict.fromkeys(headers, "")
            | {given["vehicle"]: registration, given["first_registered"]: FIRST_REGISTERED}
            for registration in most["value"]
        ]
        if rows:
            text = io.StringIO()
            csv.DictWriter(text, headers, lineterminator="\n").writerows(rows)
            rest = counted.height - most.height
            others = f"; {rest} more such {'vehicle' if rest == 1 else 'vehicles'}" if rest else ""
            because = f"{reason}: write {day} for {FIRST_REGISTERED}{others}"
            line = text.getvalue().rstrip("\n")
            yield Edit(listed[0].path, where, line, int(most["len"].sum()), because)
