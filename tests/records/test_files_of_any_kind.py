"""What people have: any separator, workbooks with titles, databases, a folder of months."""

import os
import sqlite3
import subprocess
import sys
from datetime import date, datetime
from pathlib import Path
from typing import Literal

import duckdb
import polars as pl
import pytest
import xlsxwriter
from drawn import JOB_COLUMNS, LAYOUT, drawn, workshop_folder

import wornby
from wornby.cli import main
from wornby.errors import RecordError
from wornby.records.databases import duckdb_sheet
from wornby.records.layout import FileLayout
from wornby.records.reading import Records, read_records

JOBS = """
date       | vehicle | odometer | text                    | quantity | price
2015-03-01 | V1      | 61000    | water pump renewed      | 1        | 1200.5
2016-03-12 | V1      | 72000    | oil service             | 1        | 60
2017-04-02 | V1      | 84000    | thermostat stuck, "gone" | 2       | 90.25
"""
QUOTES: tuple[Literal["necessary", "always"], ...] = ("necessary", "always")
ONE = LAYOUT.replace('path = "job_lines.csv"\n', 'path = "{path}"\n{more}')


def told(records: Records) -> list[tuple[object, ...]]:
    """What matters of the lines, whatever they were saved as."""
    lines = records.lines.join(records.readings, on=["vehicle", "date"])
    return lines.sort("date").select("date", "odometer_mi", "quantity", "price_net").rows()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return workshop_folder(tmp_path, jobs=JOBS)


@pytest.fixture
def expected(folder: Path) -> list[tuple[object, ...]]:
    return told(read_records(folder))


def layout_for(folder: Path, path: str, *more: str) -> None:
    """The folder's job lines in another file."""
    (folder / "job_lines.csv").rename(folder / "old")
    lines = "".join(f"{line}\n" for line in more)
    (folder / "layout.toml").write_text(ONE.replace("{path}", path).replace("{more}", lines))


def frame_of(folder: Path) -> pl.DataFrame:
    return pl.read_csv(folder / "job_lines.csv", infer_schema=False)


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("quotes", QUOTES)
def test_separators_and_quotation_marks_are_found_out(
    folder: Path,
    expected: list[tuple[object, ...]],
    separator: str,
    quotes: Literal["necessary", "always"],
) -> None:
    frame = frame_of(folder)
    frame.write_csv(folder / "job_lines.csv", separator=separator, quote_style=quotes)
    assert told(read_records(folder)) == expected


def test_decimal_commas_and_points_between_thousands(
    folder: Path, expected: list[tuple[object, ...]]
) -> None:
    frame = frame_of(folder).with_columns(
        price=pl.Series(["1.200,50", "60", "90,25"]),
        odometer=pl.Series(["61.000", "72.000", "84.000"]),
    )
    layout_for(folder, "export.txt", 'decimal_mark = ","')
    frame.write_csv(folder / "export.txt", separator=";")
    assert told(read_records(folder)) == expected


def test_a_workbooks_own_numbers_stand_beside_texts_with_commas(
    folder: Path, expected: list[tuple[object, ...]]
) -> None:
    frame = frame_of(folder).with_columns(price=pl.Series(["1200.5", "60", "90,25"]))
    layout_for(folder, "export.csv", 'decimal_mark = ","')
    pl.concat([frame, frame.tail(1).with_columns(job=pl.lit("x"), price=pl.lit("7,50"))]).write_csv(
        folder / "export.csv"
    )
    assert [row[3] for row in told(read_records(folder))] == [1200.5, 60.0, 90.25, 7.5]
    assert expected[0][3] == 1200.5


def write_book(path: Path, frame: pl.DataFrame, sheets: dict[str, slice], top: int) -> None:
    """A workbook of an export: a title merged over the columns, dates as dates."""
    with xlsxwriter.Workbook(str(path)) as book:
        shown = book.add_format({"num_format": "dd/mm/yyyy"})
        book.add_worksheet("Read me").write(0, 0, "job number")
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            if top:
                sheet.merge_range(0, 0, 0, 8, "Saltmarsh Van Works: job lines")
            sheet.write_row(top, 0, frame.columns)
            for r, row in enumerate(frame[rows].iter_rows(), start=top + 1):
                sheet.write_row(r, 0, row)
                sheet.write_datetime(r, 1, datetime.fromisoformat(row[1]), shown)


def test_a_workbook_with_a_title_merged_above_its_header(
    folder: Path, expected: list[tuple[object, ...]]
) -> None:
    write_book(folder / "book.xlsx", frame_of(folder), {"Lines": slice(0, 3)}, top=3)
    layout_for(folder, "book.xlsx")
    assert told(read_records(folder)) == expected


def test_several_sheets_by_a_pattern_and_each_row_says_whose_it_is(
    folder: Path, expected: list[tuple[object, ...]]
) -> None:
    sheets = {"2015": slice(0, 1), "2016": slice(1, 3)}
    frame = frame_of(folder)
    broken = frame.with_columns(
        date=pl.when(pl.int_range(3) == 2).then(pl.lit("2021-01-01")).otherwise("date")
    )
    write_book(folder / "book.xlsx", frame, sheets, top=1)
    layout_for(folder, "book.xlsx", 'sheet = "20*"')
    assert told(read_records(folder)) == expected
    write_book(folder / "book.xlsx", broken, sheets, top=1)
    (problem,) = read_records(folder).problems.select("file", "row", "reason").rows()
    assert problem == ("book.xlsx, 2016", 4, "date after the close of records")


def test_a_spreadsheets_count_of_days_is_a_day(
    folder: Path, expected: list[tuple[object, ...]]
) -> None:
    frame = frame_of(folder)
    days = [(date.fromisoformat(d) - date(1899, 12, 30)).days + 0.4375 for d in frame["date"]]
    frame.with_columns(date=pl.Series([str(day) for day in days])).write_csv(
        folder / "job_lines.csv"
    )
    assert told(read_records(folder)) == expected


@pytest.mark.parametrize(
    "days",
    [
        ("Sun 1 Mar 2015", "12th March 2016", "2 Apr 17"),
        ("01/03/2015 10:31", "12.3.16", "2-4-2017"),
    ],
)
def test_days_as_people_write_them(
    folder: Path, expected: list[tuple[object, ...]], days: tuple[str, ...]
) -> None:
    frame = frame_of(folder).with_columns(date=pl.Series(days))
    frame.write_csv(folder / "job_lines.csv")
    layout = (folder / "layout.toml").read_text()
    old = 'path = "job_lines.csv"\ndates = "year first"'
    (folder / "layout.toml").write_text(layout.replace(old, old.replace("year", "day")))
    assert told(read_records(folder)) == expected


def into_sqlite(folder: Path, name: str, *, also: bool = False) -> None:
    """The job lines as a program's database holds them."""
    frame = frame_of(folder).with_columns(pl.col("price", "odometer").cast(pl.Float64))
    with sqlite3.connect(folder / name) as base:
        if also:
            base.execute("CREATE TABLE customers (name TEXT)")
        columns = ", ".join(f'"{c}"' for c in frame.columns)
        base.execute(f"CREATE TABLE lines ({columns})")
        marks = ", ".join("?" * frame.width)
        base.executemany(f"INSERT INTO lines VALUES ({marks})", frame.rows())
    base.close()


@pytest.mark.parametrize("also", [False, True])
def test_a_table_of_an_sqlite_file_is_named_or_found_by_its_columns(
    folder: Path, expected: list[tuple[object, ...]], also: bool
) -> None:
    into_sqlite(folder, "garage.db", also=also)
    layout_for(folder, "garage.db", *(['sheet = "lines"'] if also else []))
    assert told(read_records(folder)) == expected


def test_a_view_of_a_duckdb_file(folder: Path, expected: list[tuple[object, ...]]) -> None:
    frame = frame_of(folder)
    base = duckdb.connect(str(folder / "garage.duckdb"))
    kinds = {"date": "DATE", "odometer": "DOUBLE", "quantity": "INTEGER", "price": "DOUBLE"}
    columns = ", ".join(f"{name} {kinds.get(name, 'VARCHAR')}" for name in frame.columns)
    base.execute(f"CREATE TABLE raw ({columns})")
    base.executemany(f"INSERT INTO raw VALUES ({', '.join('?' * 9)})", frame.rows())
    base.execute("CREATE VIEW lines AS SELECT * FROM raw")
    base.close()
    layout_for(folder, "garage.duckdb", 'sheet = "lines"')
    assert told(read_records(folder)) == expected


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("a.db", b"SQLite format 3\x00" + b"x" * 90, "a.db: cannot be read as SQLite"),
        ("a.duckdb", b"12345678DUCK" + b"\x00" * 90, "a.duckdb: cannot be read as DuckDB"),
        ("a.parquet", b"PAR1 and no more", "a.parquet: cannot be read as Parquet"),
        ("a.xls", b"\xd0\xcf\x11\xe0" + b"x" * 90, "a.xls: cannot be read as a workbook"),
        ("a.csv", b"\x1f\x8b" + b"x" * 90, "a.csv: is a compressed file, not a table"),
    ],
)
def test_a_broken_file_is_refused_in_one_line(
    folder: Path, name: str, content: bytes, said: str
) -> None:
    layout_for(folder, name)
    (folder / name).write_bytes(content)
    with pytest.raises(RecordError, match=said) as refused:
        read_records(folder)
    assert "\n" not in str(refused.value)


def test_an_unknown_table_of_a_database_is_named_with_those_there_are(folder: Path) -> None:
    into_sqlite(folder, "garage.db", also=True)
    layout_for(folder, "garage.db", 'sheet = "invoices"')
    with pytest.raises(RecordError, match="no table 'invoices'; it has customers, lines"):
        read_records(folder)


def test_without_duckdb_its_files_say_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "duckdb", None)
    layout = FileLayout(table="job_lines", path="a.duckdb", columns={})
    with pytest.raises(RecordError, match=r"install wornby\[duckdb\], or export"):
        duckdb_sheet("a.duckdb", tmp_path / "a.duckdb", layout)


def test_a_folder_of_months_is_one_table_however_each_month_was_saved(
    folder: Path, expected: list[tuple[object, ...]]
) -> None:
    frame = frame_of(folder)
    for n, (year, separator) in enumerate((("2015", ","), ("2016", ";"), ("2017", "\t"))):
        (folder / "months" / year).mkdir(parents=True)
        part = frame[n : n + 1].select(reversed(frame.columns))
        part.write_csv(folder / "months" / year / "03.csv", separator=separator)
    frame.clear().write_csv(folder / "months" / "2018.csv")
    (folder / "months" / "~$open.csv").write_text("left by a program")
    layout_for(folder, "months/**/*.csv")
    records = read_records(folder)
    assert told(records) == expected
    assert records.ledgers[1].n_read == 3


def test_a_header_is_found_by_its_words_not_by_their_letters(
    folder: Path, expected: list[tuple[object, ...]]
) -> None:
    text = (folder / "job_lines.csv").read_text()
    header, rest = text.split("\n", 1)
    (folder / "job_lines.csv").write_text(f"\ufeff {header.upper().replace(',', ' , ')}\n{rest}")
    assert told(read_records(folder)) == expected


def test_a_page_says_how_each_file_was_read(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    frame_of(folder).with_columns(customer=pl.lit("x")).write_csv(
        folder / "job_lines.csv", separator=";"
    )
    answer = wornby.file_answer(folder)
    assert answer.frame.row(1) == (
        "job_lines.csv", "job_lines", "utf-8, semicolons", 1, 3, "customer",
    )  # fmt: skip
    assert main(["read", str(folder)]) == 0
    assert "utf-8, semicolons" in capsys.readouterr().out


COPIED = "Reg\tDate\tMiles\nQQ1 AAA\t01/03/2015\t61,000\nQQ1 AAA\t\t\u00a072,000\n"


def test_cells_copied_from_a_spreadsheet_are_a_table() -> None:
    table = wornby.pasted_table(COPIED)
    assert table.columns == ["Reg", "Date", "Miles"]
    assert table.rows() == [("QQ1 AAA", "01/03/2015", "61,000"), ("QQ1 AAA", None, "72,000")]


def test_of_cells_pasted_into_a_notebook_it_is_said_what_each_column_is_taken_for() -> None:
    answer = wornby.pasted_answer(COPIED)
    assert answer.frame.rows() == [
        ("Reg", "vehicle", 2, 2, "QQ1 AAA"),
        ("Date", "date", 1, 2, "01/03/2015"),
        ("Miles", "odometer", 2, 2, "61,000"),
    ]
    assert wornby.pasted_answer("Bay\n3").people.row(0) == ("Bay", "not guessed", "1 of 1", "3")


def test_pasted_job_lines_are_kept_for_the_folder(
    folder: Path, expected: list[tuple[object, ...]]
) -> None:
    text = frame_of(folder).write_csv(separator="\t")
    (folder / "job_lines.csv").unlink()
    wornby.pasted_table(text, to=str(folder / "job_lines.csv"))
    assert told(read_records(folder)) == expected
    with pytest.raises(RecordError, match="is there already"):
        wornby.pasted_table(text, to=folder / "job_lines.csv")


def test_nothing_pasted_and_no_clipboard_are_said_plainly(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(RecordError, match="copy the cells with their header first"):
        wornby.pasted_table("  \n")
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    monkeypatch.setenv("PATH", "")
    with pytest.raises(RecordError, match="between triple quotes"):
        wornby.pasted_table()


def test_what_the_clipboard_holds_is_read_by_the_systems_own_program(tmp_path: Path) -> None:
    """A script stands where a desktop has its program for the clipboard."""
    script = tmp_path / "xclip"
    script.write_text("#!/bin/sh\nprintf 'Reg\\tMiles\\nQQ1\\t84,000\\n\\n'\n")
    script.chmod(0o700)
    ask = "import wornby; print(wornby.pasted_table().rows())"
    reach = {"DISPLAY": ":9", "PATH": f"{tmp_path}:{os.environ['PATH']}", "XDG_SESSION_TYPE": "x11"}
    command = [sys.executable, "-c", ask]
    told = subprocess.run(command, check=True, env={**os.environ, **reach}, capture_output=True)
    assert told.stdout == b"[('QQ1', '84,000')]\n"


def test_the_same_text_means_the_same_version_in_vehicles_and_in_a_survey(tmp_path: Path) -> None:
    folder = workshop_folder(tmp_path, jobs=JOBS)
    drawn(
        "vehicle | first_registered | body\nV1 | 2005-01-01 | LWB\nV2 | 2006-01-01 | Short"
    ).write_csv(folder / "vehicles.csv")
    dated = 'first_registered = "first_registered"\n'
    words = '[file.words.version]\nlwb = "Long"\n'
    layout = LAYOUT.replace(dated, f'{dated}version = "body"\n{words}')
    (folder / "layout.toml").write_text(layout)
    assert read_records(folder).vehicles["version"].to_list() == ["long", "short"]
    assert len(JOB_COLUMNS) == 9
