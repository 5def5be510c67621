"""Answer sheets as clubs get them: one clean sheet, broken in the ways that real ones are.

The sheet is invented and seeded. Which breakages there are is common practice, no source: what
spreadsheets, form services and people do to a table.
"""

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import xlsxwriter

Row = list[str]
HEADER = [
    "Respondent",
    "Model year",
    "Version",
    "Odometer now",
    "Bought",
    "Happy to share?",
    "water pump",
    "water pump, when",
    "thermostat",
    "thermostat, when",
]
N_ANSWERS = 12
LAYOUT = """
[[file]]
table = "survey"
path = "answers*"
dates = "day first"
[file.columns]
respondent = "Respondent"
model_year = "Model year"
version = "Version"
odometer = "Odometer now"
bought = "Bought"
share = "Happy to share?"
[file.constants]
answered = "2024-12-31"

[[file]]
table = "component_answers"
path = "answers*"
dates = "day first"
[file.columns]
respondent = "Respondent"
[file.each_component]
state = "*"
when = "*, when"
"""


@dataclass(frozen=True, slots=True)
class Breakage:
    """One way to break the sheet, and what must come of it.

    `more` rows stand in the file beside the answers; of all, `lost` are not used as answers and
    `no_odometer` answers have none that can be used. Where `same`, everything read is as of the
    clean sheet. `refused` is what the error says where the file is refused.
    """

    name: str
    write: Callable[[Path, list[Row]], None]
    more: int = 0
    lost: int = 0
    no_odometer: int = 0
    same: bool = True
    refused: str | None = None
    layout: str = LAYOUT


def clean_rows(seed: int = 2027) -> list[Row]:
    """Twelve answers of an invented club, drawn by a seeded generator."""
    rng = np.random.default_rng(seed)
    rows = []
    for n in range(1, N_ANSWERS + 1):
        year = int(rng.integers(2004, 2012))
        when = [str(int(rng.integers(2013, 2024))) if rng.random() < 0.6 else "" for _ in "ab"]
        states = [("renewed", at) if at else ("original", "") for at in when]
        rows.append(
            [
                f"M{n}",
                str(year),
                ["short", "long"][n % 2],
                f"{int(rng.integers(40, 160))}000",
                str(year + int(rng.integers(0, 6))),
                ["yes", "no"][n % 3 == 0],
                *states[0],
                *states[1],
            ]
        )
    return rows


def text_of(rows: list[Row], separator: str = ",", header: Row | None = None, **how: Any) -> str:
    """A sheet as text with separators."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\n", **how)
    writer.writerows([HEADER if header is None else header, *rows])
    return out.getvalue()


def club(folder: Path, breakage: Breakage, rows: list[Row]) -> Path:
    """A club's folder with one broken sheet, its layout, and nothing else."""
    folder.mkdir(exist_ok=True)
    breakage.write(folder, rows)
    (folder / "layout.toml").write_text(breakage.layout)
    return folder


def as_bytes(make: Callable[[str], bytes]) -> Callable[[Path, list[Row]], None]:
    """A breakage of the clean sheet's bytes."""
    return lambda folder, rows: _put(folder, make(text_of(rows)))


def as_text(make: Callable[[list[Row]], str]) -> Callable[[Path, list[Row]], None]:
    """A breakage of how the rows are written."""
    return lambda folder, rows: _put(folder, make(rows).encode())


def _put(folder: Path, raw: bytes, name: str = "answers.csv") -> None:
    (folder / name).write_bytes(raw)


def in_cell(column: str, make: Callable[[str], str], rows: int = 1) -> Any:
    """A breakage of one column's cells in the first so many rows."""
    at = HEADER.index(column)

    def write(folder: Path, clean: list[Row]) -> None:
        broken = [
            [make(cell) if n < rows and c == at else cell for c, cell in enumerate(row)]
            for n, row in enumerate(clean)
        ]
        _put(folder, text_of(broken).encode())

    return write


def everywhere(column: str, make: Callable[[str], str]) -> Any:
    """A breakage of all cells of a column."""
    return in_cell(column, make, N_ANSWERS)


def headed(make: Callable[[int, str], str], columns: Row | None = None) -> Any:
    """A breakage of the header alone."""
    names = [make(n, name) for n, name in enumerate(columns or HEADER)]
    return as_text(lambda rows: text_of(rows, header=names))


def book(fill: Callable[[Any, Any, list[Row]], None], name: str = "answers.xlsx") -> Any:
    """A breakage that only a workbook can have."""

    def write(folder: Path, rows: list[Row]) -> None:
        with xlsxwriter.Workbook(str(folder / name)) as workbook:
            fill(workbook, workbook.add_worksheet("Answers"), rows)

    return write


def filled(sheet: Any, rows: list[Row], top: int = 0) -> None:
    """The clean sheet from a row on, numbers as numbers."""
    for r, row in enumerate([HEADER, *rows]):
        for c, cell in enumerate(row):
            sheet.write(top + r, c, int(cell) if cell.isdigit() else cell or None)


def _titled(workbook: Any, sheet: Any, rows: list[Row]) -> None:
    bold = workbook.add_format({"bold": True, "align": "center"})
    sheet.merge_range(0, 0, 1, 9, "Merrow Circle: what lasts?", bold)
    filled(sheet, rows, top=3)


def _grouped(workbook: Any, sheet: Any, rows: list[Row]) -> None:
    middle = workbook.add_format({"align": "center"})
    for first, last, title in ((0, 5, "Your van"), (6, 7, "water pump"), (8, 9, "thermostat")):
        sheet.merge_range(0, first, 0, last, title, middle)
    lower = [*HEADER[:6], "", "when", "", "when"]
    for c, name in enumerate(lower):
        sheet.write(1, c, name)
    for r, row in enumerate(rows):
        for c, cell in enumerate(row):
            sheet.write(2 + r, c, int(cell) if cell.isdigit() else cell or None)


def _hidden_first(workbook: Any, sheet: Any, rows: list[Row]) -> None:
    old = [["M99", *row[1:]] for row in rows[:3]]
    filled(sheet, old)
    shown = workbook.add_worksheet("This year")
    filled(shown, rows)
    shown.activate()
    shown.set_first_sheet()
    sheet.hide()


def _notes_first(workbook: Any, sheet: Any, rows: list[Row]) -> None:
    sheet.write(0, 0, "Notes by the secretary")
    sheet.write(3, 1, "ring Mrs P. about the draw")
    filled(workbook.add_worksheet("Form answers 1"), rows)


def _dates(number_format: str | None) -> Callable[[Any, Any, list[Row]], None]:
    """The day of purchase as a spreadsheet keeps it: a number, shown as a date or not."""

    def fill(workbook: Any, sheet: Any, rows: list[Row]) -> None:
        filled(sheet, rows)
        shown = workbook.add_format({"num_format": number_format} if number_format else {})
        for r, row in enumerate(rows, start=1):
            days = (datetime(int(row[4]), 7, 1) - datetime(1899, 12, 30)).days
            sheet.write_number(r, 4, days, shown)

    return fill


def _year_as_date(workbook: Any, sheet: Any, rows: list[Row]) -> None:
    filled(sheet, rows)
    shown = workbook.add_format({"num_format": "dd/mm/yyyy"})
    for r, row in enumerate(rows, start=1):
        sheet.write_number(r, 1, int(row[1]), shown)


def _formulas(workbook: Any, sheet: Any, rows: list[Row]) -> None:
    filled(sheet, rows)
    for r, row in enumerate(rows, start=1):
        sheet.write_formula(r, 3, f"={row[3]}-0", None, int(row[3]))


def _errors(workbook: Any, sheet: Any, rows: list[Row]) -> None:
    filled(sheet, rows)
    sheet.write_formula(1, 3, "=NA()", None, "#N/A")


def _booleans(workbook: Any, sheet: Any, rows: list[Row]) -> None:
    filled(sheet, rows)
    for r, row in enumerate(rows, start=1):
        sheet.write_boolean(r, 5, row[5] == "yes")


def _far_below(workbook: Any, sheet: Any, rows: list[Row]) -> None:
    filled(sheet, rows)
    grey = workbook.add_format({"bg_color": "#eeeeee"})
    for r in range(20, 400):
        sheet.write_blank(r, 0, None, grey)


def _three_orders(rows: list[Row]) -> str:
    ways = ("{y}-07-01", "1 July {y}", "July 1, {y}", "01/07/{y}", "1st of July {y}", "1-Jul-{y}")
    broken = [
        [*row[:4], ways[n % len(ways)].format(y=row[4]), *row[5:]] for n, row in enumerate(rows)
    ]
    return text_of(broken)


def _lines(make: Callable[[list[str]], list[str]]) -> Any:
    """A breakage of the file's lines."""
    return as_text(lambda rows: "\n".join(make(text_of(rows).splitlines())) + "\n")


def _swap(lines: list[str], at: int, old: str, new: str) -> list[str]:
    return [line.replace(old, new, 1) if n == at else line for n, line in enumerate(lines)]


def _with_column(name: str, cell: Callable[[int], str], separator: str = ",") -> Any:
    """A breakage by a column that nobody asked for."""
    return as_text(
        lambda rows: text_of(
            [[cell(n), *row] for n, row in enumerate(rows)], separator, [name, *HEADER]
        )
    )


def _reordered(rows: list[Row]) -> str:
    order = [9, 3, 0, 6, 5, 1, 2, 8, 4, 7]
    return text_of([[row[c] for c in order] for row in rows], header=[HEADER[c] for c in order])


def _grouped_text(rows: list[Row]) -> str:
    upper = ["Your van", "", "", "", "", "", "water pump", "", "thermostat", ""]
    lower = [*HEADER[:6], "", "when", "", "when"]
    return text_of([lower, *rows], header=upper)


def _parquet(folder: Path, rows: list[Row]) -> None:
    frame = pl.DataFrame(rows, schema=HEADER, orient="row")
    numbers = frame.with_columns(pl.col("Model year", "Odometer now").cast(pl.Float64))
    numbers.write_parquet(folder / "answers.parquet")


def _workbook_as_csv(folder: Path, rows: list[Row]) -> None:
    book(lambda _workbook, sheet, given: filled(sheet, given), "answers.csv")(folder, rows)


def _cut_workbook(folder: Path, rows: list[Row]) -> None:
    book(lambda _workbook, sheet, given: filled(sheet, given))(folder, rows)
    path = folder / "answers.xlsx"
    path.write_bytes(path.read_bytes()[:1500])


def _for_a_number(text: str) -> Breakage:
    """Something else where an odometer should stand."""
    write = in_cell("Odometer now", lambda _cell: text)
    return Breakage(f"{text!r} for a number", write, no_odometer=1, same=False)


WIDE_DIGITS = str.maketrans("0123456789", "０１２３４５６７８９")
TOTAL = "Total,,,{},,,,,,"
STAMPED = LAYOUT.replace('[file.constants]\nanswered = "2024-12-31"\n', "").replace(
    'share = "Happy', 'answered = "Timestamp"\nshare = "Happy'
)
KILOMETRES = LAYOUT.replace('dates = "day first"', 'dates = "day first"\ndistance_unit = "km"')
DASHES = LAYOUT.replace('dates = "day first"', 'dates = "day first"\nmissing = ["none"]')

BREAKAGES = (
    Breakage("clean", as_bytes(str.encode)),
    # encodings and line ends
    Breakage("UTF-8 with a byte order mark", as_bytes(lambda t: t.encode("utf-8-sig"))),
    Breakage("UTF-16, little end first", as_bytes(lambda t: t.encode("utf-16"))),
    Breakage("UTF-16, big end first", as_bytes(lambda t: b"\xfe\xff" + t.encode("utf-16-be"))),
    Breakage("UTF-16 without its mark", as_bytes(lambda t: t.encode("utf-16-le"))),
    Breakage("UTF-32", as_bytes(lambda t: t.encode("utf-32"))),
    Breakage(
        "Windows-1252",
        lambda folder, rows: _put(
            folder,
            text_of([[*r, "café, 5 £"] for r in rows], header=[*HEADER, "Où?"]).encode("cp1252"),
        ),
    ),
    Breakage(
        "UTF-16 with tabs, as a spreadsheet saves Unicode text",
        lambda folder, rows: _put(folder, text_of(rows, "\t").encode("utf-16"), "answers.txt"),
    ),
    Breakage("line ends of an old Mac", as_bytes(lambda t: t.replace("\n", "\r").encode())),
    Breakage("line ends doubled", as_bytes(lambda t: t.replace("\n", "\r\r\n").encode())),
    Breakage(
        "line ends mixed",
        as_bytes(lambda t: t.replace("\n", "\r\n", 4).encode()),
    ),
    Breakage("nought characters", as_bytes(lambda t: t.replace("short", "sh\x00ort").encode())),
    Breakage(
        "two exports pasted together, a mark and a header in the middle",
        as_text(lambda r: text_of(r[:6]) + "\ufeff" + text_of(r[6:])),
        more=1,
        lost=1,
    ),
    # separators and quotation marks
    Breakage("semicolons", as_text(lambda r: text_of(r, ";"))),
    Breakage("tabs", as_text(lambda r: text_of(r, "\t"))),
    Breakage("bars", as_text(lambda r: text_of(r, "|"))),
    Breakage("a line that says which separator", as_text(lambda r: "sep=;\n" + text_of(r, ";"))),
    Breakage("all cells quoted", as_text(lambda r: text_of(r, quoting=csv.QUOTE_ALL))),
    Breakage(
        "spaces before quotation marks",
        as_text(lambda r: text_of(r, quoting=csv.QUOTE_ALL).replace('","', '", "')),
    ),
    Breakage(
        "a quotation mark never closed",
        _lines(lambda lines: _swap(lines, 5, "M5,", 'M5,"')),
        refused=r'row 6 opens a quotation mark \("\) and nothing closes it',
    ),
    Breakage(
        "two rows in one pair of quotation marks",
        _lines(lambda lines: _swap(_swap(lines, 5, "M5", '"M5'), 7, "M7", 'M7"')),
        refused=r"row 6 opens a quotation mark",
    ),
    Breakage("inches", _with_column("Hose", lambda n: '5" hose' if n == 3 else "")),
    Breakage("a line break in a cell", _with_column("Notes", lambda n: f"first\nsecond {n}")),
    Breakage(
        "a separator in a cell without quotes",
        _lines(lambda lines: _swap(lines, 3, ",long,", ",long, the white one,")),
        lost=1,
        same=False,
    ),
    Breakage(
        "blank cells left out at the end of rows", _lines(lambda ls: [x.rstrip(",") for x in ls])
    ),
    Breakage("separators at the end of each row", _lines(lambda ls: [f"{x},,," for x in ls])),
    # what stands around the rows
    Breakage(
        "title rows above the header",
        as_text(lambda r: "Merrow Circle survey\n2024\n\n" + text_of(r)),
    ),
    Breakage("group titles over the header", as_text(_grouped_text)),
    Breakage("merged title in a workbook", book(_titled)),
    Breakage("merged group titles in a workbook", book(_grouped)),
    Breakage(
        "blank rows between",
        _lines(lambda ls: [*ls[:4], "", ",,,,,,,,,", *ls[4:]]),
        more=2,
        lost=2,
    ),
    Breakage("blank lines at the end", _lines(lambda ls: [*ls, "", "", ""])),
    Breakage("a total", _lines(lambda ls: [*ls, TOTAL.format(1_234_000)]), more=1, lost=1),
    Breakage("averages", _lines(lambda ls: [*ls, "Average:,2007.4,,98000,,,,,,"]), more=1, lost=1),
    Breakage(
        "a footer",
        _lines(lambda ls: [*ls, "", "Exported on 3 January 2025 by the form service"]),
        more=2,
        lost=2,
    ),
    Breakage("the header once more", _lines(lambda ls: [*ls[:7], ls[0], *ls[7:]]), more=1, lost=1),
    Breakage("formatted cells far below", book(_far_below)),
    # headers
    Breakage("columns in another order", as_text(_reordered)),
    Breakage("question numbers", headed(lambda n, name: f"Q{n + 1}. {name}")),
    Breakage("numbers with brackets", headed(lambda n, name: f"{n + 1}) {name}")),
    Breakage("capitals and odd spaces", headed(lambda n, name: f" {name.upper()}\u00a0 *")),
    Breakage("an unseen mark before the first header", headed(lambda n, h: f"\u200b{h}")),
    Breakage("a time stamp nobody asked for", _with_column("Timestamp", lambda n: f"{n}")),
    Breakage(
        "two columns of the same name that nobody reads",
        as_text(
            lambda rows: text_of([[*r, "a", "b"] for r in rows], header=[*HEADER, "Other", "Other"])
        ),
    ),
    Breakage(
        "a column that is read stands twice",
        as_text(lambda rows: text_of([[*r, "x"] for r in rows], header=[*HEADER, "Version"])),
        refused="the header 'Version' stands twice; give each column its own",
    ),
    Breakage(
        "a column renamed",
        headed(lambda n, name: name.replace("Model year", "Model yr")),
        refused=r"no column 'Model year' .*, the nearest is 'Model yr'; it has Respondent",
    ),
    Breakage(
        "no column of any component",
        headed(lambda n, name: name.replace("water pump", "pump").replace(", when", " when")),
        refused="no component has the columns",
    ),
    # files that are none
    Breakage("an empty file", as_bytes(lambda t: b""), refused="is empty; export it again"),
    Breakage("blank lines alone", as_bytes(lambda t: b"\n \n\n"), refused="is empty"),
    Breakage("a header alone", as_bytes(lambda t: t.splitlines()[0].encode()), refused="no rows"),
    Breakage(
        "a web page with the name of a table",
        as_bytes(lambda t: b"<html><table><tr><td>Respondent</td></tr></table>"),
        refused="is a web page, whatever its name says",
    ),
    Breakage("a PDF", as_bytes(lambda t: b"%PDF-1.7 ..."), refused="is a PDF, not a table"),
    Breakage("a picture", as_bytes(lambda t: b"\x89PNG\r\n\x1a\n"), refused="is a picture"),
    Breakage("a workbook cut short", _cut_workbook, refused="cannot be read as a workbook"),
    Breakage("a workbook with the name of a text", _workbook_as_csv),
    Breakage("Parquet", _parquet),
    # workbooks
    Breakage("last year's answers on a hidden sheet", book(_hidden_first)),
    Breakage("a sheet of notes first", book(_notes_first)),
    Breakage("days as a spreadsheet's numbers", book(_dates(None)), same=False),
    Breakage("days shown as dates", book(_dates("dd/mm/yyyy")), same=False),
    Breakage("days with a time", book(_dates("dd/mm/yyyy hh:mm")), same=False),
    Breakage("years shown as dates", book(_year_as_date)),
    Breakage("formulas", book(_formulas)),
    Breakage("an error in a cell", book(_errors), no_odometer=1, same=False),
    Breakage("true and false", book(_booleans)),
    # cells
    Breakage("a respondent twice", as_text(lambda r: text_of([*r, r[2]])), more=1, lost=1),
    Breakage(
        "a respondent twice, in other letters",
        as_text(lambda r: text_of([*r, [" m3 ", *r[2][1:]]])),
        more=1,
        lost=1,
    ),
    Breakage("thousands with commas", everywhere("Odometer now", lambda c: f"{int(c):,}")),
    Breakage(
        "thousands with points",
        everywhere("Odometer now", lambda c: f"{int(c):,}".replace(",", ".")),
    ),
    Breakage(
        "thousands with narrow spaces",
        everywhere("Odometer now", lambda c: f"{int(c):,}".replace(",", "\u202f")),
    ),
    Breakage("thousands as k", everywhere("Odometer now", lambda c: f"{int(c) // 1000}k")),
    Breakage("miles written out", everywhere("Odometer now", lambda c: f"{c} miles")),
    Breakage("about", everywhere("Odometer now", lambda c: f"about {int(c):,}")),
    Breakage(
        "ranges",
        everywhere("Odometer now", lambda c: f"{int(c) // 1000 - 5}-{int(c) // 1000 + 5}k"),
    ),
    Breakage("full-width digits", everywhere("Model year", lambda c: c.translate(WIDE_DIGITS))),
    Breakage("marks of direction", everywhere("Version", lambda c: f"\u200f{c}\u200e")),
    Breakage("spaces that do not break", everywhere("water pump", lambda c: f"\u00a0{c}\u00a0")),
    Breakage("pictures", everywhere("thermostat", lambda c: f"{c} 👍")),
    Breakage(
        "a remark in a number's cell",
        in_cell("Odometer now", lambda c: f"{c}, second clock, first at 61"),
        no_odometer=1,
        same=False,
    ),
    Breakage("per cent", in_cell("Odometer now", lambda c: "84%"), no_odometer=1, same=False),
    Breakage("below nought", in_cell("Odometer now", lambda c: f"-{c}"), no_odometer=1, same=False),
    Breakage("in thousands", in_cell("Odometer now", lambda c: c[:-3]), no_odometer=1, same=False),
    *(_for_a_number(text) for text in ("n/a", "?", "-", "DK", "don’t know", "none", "TBC")),
    Breakage(
        "kilometres by the layout",
        everywhere("Odometer now", lambda c: str(round(int(c) * 1.609344))),
        layout=KILOMETRES,
        same=False,
    ),
    Breakage(
        "kilometres written beside one number",
        in_cell("Odometer now", lambda c: f"{round(int(c) * 1.609344)} km"),
        same=False,
    ),
    Breakage("model years with a decimal point", everywhere("Model year", lambda c: f"{c}.0")),
    Breakage("model years in words", everywhere("Model year", lambda c: f"MY{c}")),
    Breakage("a day for a model year", everywhere("Model year", lambda c: f"1/6/{c}")),
    Breakage(
        "two model years", in_cell("Model year", lambda c: f"{c} or 2099"), lost=1, same=False
    ),
    Breakage(
        "a model year of two digits", in_cell("Model year", lambda c: c[2:]), lost=1, same=False
    ),
    Breakage("letters' case and spaces", everywhere("Version", lambda c: f" {c.upper()}  ")),
    Breakage("days in six ways of writing", as_text(_three_orders), same=False),
    Breakage(
        "time stamps of a form service",
        _with_column("Timestamp", lambda n: f"2024/12/{n + 10} 3:2{n % 10}:31 PM GMT+1"),
        layout=STAMPED,
        same=False,
    ),
    Breakage(
        "state and year in one cell",
        as_text(
            lambda rows: text_of([[*r[:6], f"{r[6]} {r[7]}".strip(), "", *r[8:]] for r in rows])
        ),
    ),
    Breakage(
        "two answers in one cell",
        in_cell("water pump, when", lambda c: "2013 and about 2019"),
        same=False,
    ),
    Breakage(
        "two states in one cell",
        in_cell("water pump", lambda c: "original; renewed"),
        same=False,
    ),
    Breakage("a cell of 200,000 signs", _with_column("Notes", lambda n: "x" * 200_000 * (n == 2))),
    Breakage(
        "a cell of 200,000 signs where a number should stand",
        in_cell("Odometer now", lambda c: "9" * 200_000),
        no_odometer=1,
        same=False,
    ),
    Breakage(
        "yes and no in other words",
        everywhere("Happy to share?", {"yes": "Yes, of course", "no": "Rather not"}.__getitem__),
    ),
    Breakage(
        "the layout's own word for nothing",
        in_cell("Odometer now", lambda c: "none"),
        no_odometer=1,
        same=False,
        layout=DASHES,
    ),
)
