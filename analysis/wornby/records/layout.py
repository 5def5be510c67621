"""What each export calls its columns, and how it writes dates, numbers and money."""

import tomllib
from codecs import lookup
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from wornby.errors import RecordError
from wornby.records.typed_entries import entry
from wornby.tables import INPUT_TABLES

DATE_ORDERS = ("day first", "month first", "year first", "year and month", "year")
CHOICES = {
    "table": tuple(INPUT_TABLES),
    "distance_unit": ("mi", "km"),
    "prices": ("net", "gross"),
    "decimal_mark": (".", ","),
}
UNDATED = ("lives", "survey", "component_answers", "population")
"""Tables without a column of dates."""
FOUND_AS = {"odometer_mi": "odometer", "price_net": "price"}
"""Columns that an export gives in a unit of its own, and the word the layout has for them."""


@dataclass(frozen=True, slots=True)
class FileLayout:
    """How one file is read into one table.

    `columns` maps our column to theirs; several of theirs are joined by "-", and "row" stands
    for the number of the row. Rows with nothing in their column `only_where` belong to another
    table. `missing` are texts that mean "nothing written". `dates` is one of `DATE_ORDERS` or
    "days since 2000-01-31". Left out, `encoding` and `separator` are found out. `sheet` is the
    sheet of a workbook, by a pattern several ("2024-*"), or the table of a database; left out,
    it is the first with these columns. With `successive_looks` each row of a lives file is a later
    look at the same parts; those found failed had failed since the row before. Where a file has
    columns of their own for each component, `each_component` maps our column to theirs with "*"
    for the component's name: when = "*, when". A vehicles file that is `from_job_lines` tells of
    a vehicle on each of its lines: each different telling counts once. With `carried_down` a job
    line without a date and a vehicle belongs to the job of the line above that has them.
    """

    table: str
    path: str
    columns: Mapping[str, tuple[str, ...]]
    dates: str = "year first"
    encoding: str | None = None
    separator: str | None = None
    sheet: str | None = None
    decimal_mark: str = "."
    distance_unit: str = "mi"
    prices: str = "net"
    only_where: str | None = None
    successive_looks: bool = False
    from_job_lines: bool = False
    carried_down: bool = False
    missing: tuple[str, ...] = ()
    constants: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    each_component: Mapping[str, str] = field(default_factory=dict)


def read_layout(path: Path) -> tuple[FileLayout, ...]:
    """Read layout.toml; what it gets wrong is named with its [[file]] and key."""
    content = read_toml(path)
    entries = content.get("file", [])
    if not entries or not isinstance(entries, list):
        raise RecordError(f"{path.name}: no [[file]]; add one for each file to be read")
    return tuple(_file_layout(path.name, n, entry) for n, entry in enumerate(entries, start=1))


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file, or say plainly that it is missing or where it breaks."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (FileNotFoundError, NotADirectoryError, IsADirectoryError):
        raise RecordError(
            f"{path}: no such file; wornby reads a folder with layout.toml and workshop.toml, "
            "and `wornby start` writes them"
        ) from None
    except tomllib.TOMLDecodeError as error:
        raise RecordError(f"{path.name}: not readable as TOML: {error}") from None
    except UnicodeDecodeError as error:
        raise RecordError(f"{path.name}: not UTF-8 text: {error}; save it as UTF-8") from None


def _file_layout(source: str, number: int, table: Any) -> FileLayout:
    path = table.get("path", "no path") if isinstance(table, Mapping) else "no path"
    where = f"{source}: [[file]] number {number} ({path})"
    given = dict(table) if isinstance(table, Mapping) else table
    if isinstance(given, dict) and isinstance(given.get("columns"), Mapping):
        joined = {k: v if isinstance(v, list) else [v] for k, v in given["columns"].items()}
        given["columns"] = joined
    layout = entry(FileLayout, where, given)
    for key, allowed in CHOICES.items():
        if getattr(layout, key) not in allowed:
            raise RecordError(
                f"{where}: {key} = {getattr(layout, key)!r}; use {' or '.join(allowed)}"
            )
    if layout.table not in UNDATED and "dates" not in given:
        raise RecordError(f"{where}: no 'dates'; add it")
    if layout.carried_down and layout.table != "job_lines":
        raise RecordError(f"{where}: carried_down goes with job_lines only; leave it out")
    _check_writing(where, layout)
    _check_columns(where, layout)
    return layout


def _check_writing(where: str, layout: FileLayout) -> None:
    """Whether dates, encoding and separator are such as can be used."""
    try:
        lookup(layout.encoding or "utf-8")
    except LookupError:
        raise RecordError(
            f"{where}: encoding = {layout.encoding!r}: unknown; use 'utf-8' or 'cp1252'"
        ) from None
    if layout.separator is not None and len(layout.separator.encode()) != 1:
        raise RecordError(f"{where}: separator = {layout.separator!r}: wanted one character")
    if layout.dates in DATE_ORDERS:
        return
    orders = ", ".join(DATE_ORDERS)
    try:
        date.fromisoformat(layout.dates.removeprefix("days since "))
    except ValueError:
        raise RecordError(
            f"{where}: dates = {layout.dates!r}; use {orders} or 'days since 2000-01-31'"
        ) from None


def _check_columns(where: str, layout: FileLayout) -> None:
    table = INPUT_TABLES[layout.table]
    ours = {FOUND_AS.get(name, name): column for name, column in table.columns.items()}
    each = layout.each_component
    given = [*layout.columns, *layout.constants, *each, *(["component"] if each else [])]
    if odd := [header for header in each.values() if header.count("*") != 1]:
        raise RecordError(f"{where}: each_component: {odd[0]!r}: wanted one * for the component")
    if set(each.values()) == {"*"}:
        raise RecordError(f"{where}: each_component: '*' alone would take every column")
    if twice := sorted({name for name in given if given.count(name) > 1}):
        raise RecordError(f"{where}: {twice[0]} is both a column and a constant; keep one")
    if unknown := sorted({*given, *layout.words} - set(ours)):
        raise RecordError(
            f"{where}: {table.name} has no column {unknown[0]!r}; it has {', '.join(ours)}"
        )
    if missing := [name for name, column in ours.items() if column.required and name not in given]:
        raise RecordError(f"{where}: no column or constant for {', '.join(missing)}; add it")
