"""Tables of a database file as text: SQLite by Python's own library, DuckDB by its own."""

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import polars as pl

from wornby.errors import RecordError
from wornby.records.headers import find_header, holds_header
from wornby.records.layout import FileLayout
from wornby.records.sheet import Sheet

Rows = list[tuple[Any, ...]]
SQLITE_TABLES = (
    "SELECT name FROM sqlite_master WHERE type IN ('table', 'view') AND name NOT LIKE 'sqlite_%' "
    "ORDER BY name"
)
DUCKDB_TABLES = "SELECT table_name FROM information_schema.tables ORDER BY table_name"


def sqlite_sheet(name: str, path: Path, layout: FileLayout) -> Sheet:
    """The table or view that the layout names by `sheet`, or the one with its columns."""
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as base:
            return _chosen(name, base, SQLITE_TABLES, layout)
    except sqlite3.Error as error:
        raise RecordError(
            f"{name}: cannot be read as SQLite: {error}; close the program that writes it, or "
            "export the table as CSV"
        ) from None


def duckdb_sheet(name: str, path: Path, layout: FileLayout) -> Sheet:
    """The table or view that the layout names by `sheet`, or the one with its columns."""
    try:
        import duckdb
    except ImportError:
        raise RecordError(
            f"{name}: a DuckDB file needs the Python package duckdb: install wornby[duckdb], or "
            "export the table as Parquet"
        ) from None
    try:
        # a view in the file must not open other files
        config: dict[str, Any] = {"enable_external_access": "false"}
        with closing(duckdb.connect(str(path), read_only=True, config=config)) as base:
            return _chosen(name, base, DUCKDB_TABLES, layout)
    except duckdb.Error as error:
        reason = str(error).splitlines()[0]
        raise RecordError(
            f"{name}: cannot be read as DuckDB: {reason}; close the program that writes it, or "
            "export the table as Parquet"
        ) from None


def _chosen(name: str, base: Any, tables: str, layout: FileLayout) -> Sheet:
    """One table read whole: the one named, or the first in which the layout's columns stand."""
    there = [str(row[0]) for row in base.execute(tables).fetchall()]
    if not there:
        raise RecordError(f"{name}: holds no table; export it again")
    headers = {table: _columns(base, table) for table in there}
    fits = [table for table in there if holds_header([headers[table]], layout)]
    wanted = layout.sheet or [*fits, *there][0]
    if wanted not in there:
        raise RecordError(f"{name}: no table {wanted!r}; it has {', '.join(there)}")
    header = find_header(f"{name}, table {wanted!r}", [headers[wanted]], layout)
    rows = base.execute(f"SELECT * FROM {_quoted(wanted)}").fetchall()
    cells = {column: [_text(row[n]) for row in rows] for n, column in enumerate(header.names)}
    frame = pl.DataFrame(cells, schema=dict.fromkeys(header.names, pl.String))
    return Sheet(frame, 1, 2, f"table {wanted!r}")


def _columns(base: Any, table: str) -> list[str]:
    found = base.execute(f"SELECT * FROM {_quoted(table)} LIMIT 0").description
    return [str(column[0]) for column in found]


def _quoted(table: str) -> str:
    return '"' + table.replace('"', '""') + '"'


def _text(value: object) -> str | None:
    """A value as an export would write it: whole numbers without a decimal point."""
    if value is None:
        return None
    if isinstance(value, bytes):
        return value.decode("utf-8", errors="replace")
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)
