"""A layout proposed for the files of a folder, from their headers and values."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from wornby.errors import RecordError
from wornby.records.beginnings import READ, Row, first_rows
from wornby.records.headers import LOOKED_AT
from wornby.records.value_guesses import (
    decimal_mark_of,
    guessed_words,
    order_of_dates,
    unit_of,
    with_or_without_tax,
)

VOCABULARY = tomllib.loads(Path(__file__).with_name("header_words.toml").read_text("utf-8"))
CLOSE_ENOUGH = 85.0
NEEDED = {
    "job_lines": ("vehicle", "date", "text"),
    "inspections": ("vehicle", "date", "component", "condition"),
    "vehicles": ("vehicle", "first_registered"),
    "readings": ("vehicle", "date", "odometer"),
}
"""The columns by which a table is known, the one that needs most first."""
TAKEN = {
    "job_lines": ("job", "date", "vehicle", "odometer", "kind", "text", "part_number", "quantity",
                  "labour_hours", "price", "cost_net"),
    "inspections": ("vehicle", "date", "odometer", "component", "position", "condition", "origin"),
    "vehicles": ("vehicle", "version", "first_registered"),
    "readings": ("vehicle", "date", "odometer"),
}  # fmt: skip
LEAST_BELOW, SHARE_BELOW = 3, 0.1
"""So many lines, and such a share of all, are no slip: only a job's first line tells of it."""
OWN_FILES = ("layout.toml", "workshop.toml", "README.md")


@dataclass(frozen=True, slots=True)
class Guess:
    """What one sheet was taken for: a [[file]] of layout.toml, and why.

    `why` says for each key on what its value rests; `left` are headers that nothing reads.
    """

    table: str
    path: str
    sheet: str | None
    columns: Mapping[str, tuple[str, ...]]
    settings: Mapping[str, str | bool]
    words: Mapping[str, Mapping[str, str]]
    why: Mapping[str, str]
    left: tuple[str, ...] = ()
    rows: Sequence[Row] = field(default=(), repr=False)
    header: Row = ()

    def cells(self, ours: str) -> list[str]:
        """The filled cells of one of our columns."""
        places = [self.header.index(name) for name in self.columns.get(ours, ())]
        rows = [[row[n] for n in places] for row in self.rows if len(row) > max(places, default=0)]
        return ["-".join(cells) for cells in rows if any(cells)] if places else []


@dataclass(frozen=True, slots=True)
class Proposal:
    """What the files of a folder were taken for; `odd` says of the others why for nothing."""

    guesses: tuple[Guess, ...]
    odd: Mapping[str, str]

    def of(self, table: str) -> tuple[Guess, ...]:
        """What was taken for this table."""
        return tuple(guess for guess in self.guesses if guess.table == table)


def proposed_layout(folder: Path) -> Proposal:
    """Look at every file of a folder and guess which table it is, by headers and values."""
    guesses: list[Guess] = []
    odd: dict[str, str] = {}
    files = [p for p in sorted(folder.iterdir()) if p.is_file() and p.name not in OWN_FILES]
    for path in (p for p in files if p.suffix.lower() in READ and p.name[0] not in "~."):
        try:
            sheets = first_rows(path)
        except RecordError as error:
            odd[path.name] = str(error)
            continue
        found = [g for name, rows in sheets.items() if (g := _guess(path.name, name, rows))]
        if not found:
            odd[path.name] = "no row has headers that name a vehicle with a date or what was done"
        guesses += found
    return Proposal((*guesses, *_vehicles_on_lines(guesses)), odd)


def plain_name(header: str) -> str:
    """A header in small letters, signs as spaces."""
    return " ".join(re.sub(r"[^\w]+|_", " ", header).lower().split())


def columns_named(header: Row) -> dict[str, str]:
    """Our columns that the cells of a header row seem to name: ours to theirs, the surest first."""
    from rapidfuzz import fuzz

    fits: list[tuple[float, int, str, str]] = []
    for ours, words in VOCABULARY["columns"].items():
        for theirs in dict.fromkeys(cell for cell in header if cell):
            plain = plain_name(theirs)
            score = max(
                100.0 if plain == word else _within(word, plain) or fuzz.ratio(word, plain) - 10
                for word in words
            )
            if score >= CLOSE_ENOUGH - 10:
                fits.append((-score, len(fits), ours, theirs))
    named: dict[str, str] = {}
    for _, _, ours, theirs in sorted(fits):
        if ours not in named and theirs not in named.values():
            named[ours] = theirs
    return named


def _within(word: str, plain: str) -> float:
    """How surely a longer header that has the word in it means it."""
    extra = len(plain.split()) - len(word.split())
    return 90.0 - 5 * extra if f" {word} " in f" {plain} " and extra <= 2 else 0.0


def _guess(path: str, sheet: str | None, rows: Sequence[Row]) -> Guess | None:
    """The table that a sheet is, where one of its first rows names what one needs."""
    best: tuple[int, dict[str, str]] = (0, {})
    for n, row in enumerate(rows[:LOOKED_AT]):
        named = columns_named(row) if sum(map(bool, row)) > 1 else {}
        best = max(best, (n, named), key=lambda pair: len(pair[1]))
    at, named = best
    fitting = (t for t, needed in NEEDED.items() if all(c in named for c in needed))
    table = next(fitting, None)
    if table is None:
        return None
    taken: dict[str, tuple[str, ...]] = {
        ours: (named[ours],) for ours in TAKEN[table] if ours in named
    }
    why = dict.fromkeys(taken, "")
    if table == "job_lines" and "job" not in taken:
        taken = {"job": (named["vehicle"], named["date"]), **taken}
        why["job"] = "no column has a job's number: one vehicle on one day is taken for one job"
    used = {theirs for headers in taken.values() for theirs in headers}
    bare = Guess(table, path, sheet, taken, {}, {}, why, rows=rows[at + 1 :], header=rows[at])
    left = tuple(cell for cell in rows[at] if cell and cell not in used)
    return _with_settings(bare, left)


def _with_settings(bare: Guess, left: tuple[str, ...]) -> Guess:
    """The guess with how its dates, numbers and words are written."""
    day = "first_registered" if bare.table == "vehicles" else "date"
    found = {
        "dates": order_of_dates(bare.cells(day)),
        "decimal_mark": decimal_mark_of(
            [cell for ours in ("price", "labour_hours", "cost_net") for cell in bare.cells(ours)]
        ),
        "distance_unit": unit_of(bare.columns.get("odometer"), bare.cells("odometer")),
        "prices": with_or_without_tax(bare.columns.get("price")),
    }
    settings: dict[str, str | bool] = {key: value for key, (value, _) in found.items() if value}
    why = {**bare.why, **{key: reason for key, (value, reason) in found.items() if value}}
    if bare.table == "job_lines" and (reason := _lines_below(bare)):
        settings["carried_down"], why["carried_down"] = True, reason
    words = {
        ours: told
        for ours in ("kind", "condition", "origin")
        if (told := guessed_words(bare.cells(ours), VOCABULARY["words"][ours]))
    }
    return replace(bare, settings=settings, words=words, why=why, left=left)


def _lines_below(bare: Guess) -> str:
    """Why lines without a date and a vehicle seem to belong to the job above; else nothing."""
    text, *head = (bare.header.index(bare.columns[n][0]) for n in ("text", "date", "vehicle"))
    told = [row for row in bare.rows if len(row) > max(text, *head) and row[text]]
    below = [row for row in told if not any(row[place] for place in head)]
    if len(below) < max(LEAST_BELOW, SHARE_BELOW * len(told)):
        return ""
    return f"{len(below):,} of {len(told):,} lines leave date and vehicle to the line above"


def _vehicles_on_lines(guesses: Sequence[Guess]) -> list[Guess]:
    """Vehicles as job lines tell of them, where no file lists vehicles."""
    if any(guess.table == "vehicles" for guess in guesses):
        return []
    made = []
    for lines in (guess for guess in guesses if guess.table == "job_lines"):
        named = columns_named(lines.header)
        if "first_registered" not in named:
            continue
        taken = {ours: (named[ours],) for ours in TAKEN["vehicles"] if ours in named}
        why = {"from_job_lines": "no file lists vehicles, and the job lines say how old they are"}
        bare = Guess(
            "vehicles", lines.path, lines.sheet, taken, {}, {}, why,
            rows=lines.rows, header=lines.header,
        )  # fmt: skip
        told = _with_settings(bare, ())
        made.append(replace(told, settings={**told.settings, "from_job_lines": True}))
    return made
