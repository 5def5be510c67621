"""A folder to fill: a catalogue to start from, a layout of its files, blank tables, a README."""

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import polars as pl

from wornby.errors import RecordError
from wornby.records.conventions import CURRENCY_SIGNS
from wornby.records.layout import FileLayout
from wornby.records.layout_writing import layout_text
from wornby.records.proposal import Guess, Proposal, proposed_layout
from wornby.records.starting_catalogue import STARTER, starter_catalogue
from wornby.records.values import read_date

BLANKS = {
    "vehicles": {
        "vehicle": "Registration", "first_registered": "First registered", "version": "Version",
    },
    "job_lines": {
        "job": "Invoice", "date": "Date", "vehicle": "Registration", "odometer": "Mileage",
        "kind": "Type", "text": "Description", "part_number": "Part number",
        "quantity": "Quantity", "labour_hours": "Hours", "price": "Net price",
        "cost_net": "Net cost",
    },
    "inspections": {
        "vehicle": "Registration", "date": "Date", "odometer": "Mileage",
        "component": "Component", "position": "Position", "condition": "Condition",
        "origin": "Original or renewed",
    },
}  # fmt: skip
"""The tables that a new folder has, and what their columns are called."""
YEAR_ALONE = "a year alone will do; else the whole date, day first"
GAP = timedelta(days=90)
STRAGGLERS, FEW = 0.01, 3
USUAL, LONG = 0.9, 5
"""A gap is long if it is longer than 90 days and five times those that nine in ten are within."""
TAKEN_AS_ORIGINAL, NOTED = "first visit, taken as original", "workshop"


@dataclass(frozen=True, slots=True)
class Started:
    """What was written into a folder, what stays as it was, what its files were taken for."""

    written: tuple[Path, ...]
    kept: tuple[Path, ...]
    proposal: Proposal


def start_folder(folder: Path, *, today: date, pseudonym_key: str) -> Started:
    """Write what a folder lacks: catalogue, layout, tables; nothing that is there is touched.

    RecordError where it has a layout already: it was started before.
    """
    if (folder / "layout.toml").exists():
        raise RecordError(
            f"{folder / 'layout.toml'} is there already, and start overwrites nothing; "
            "`wornby read` says what to mend in it, and a layout is proposed anew once it is gone"
        )
    if folder.exists() and not folder.is_dir():
        raise RecordError(f"{folder}: is a file; give a folder, or a name for a new one")
    folder.mkdir(parents=True, exist_ok=True)
    proposal = proposed_layout(folder)
    blank = {t: "" for t in BLANKS if not proposal.of(t)} if proposal.of("job_lines") else BLANKS
    files = {
        "layout.toml": layout_text((*proposal.guesses, *(_blank_guess(t) for t in blank))),
        "workshop.toml": _catalogue_text(proposal, today=today, pseudonym_key=pseudonym_key),
        "README.md": (STARTER / "README.md").read_text(encoding="utf-8"),
        **{f"{table}.csv": _blank_table(table, proposal) for table in blank},
    }
    kept = tuple(folder / name for name in files if (folder / name).exists())
    clashing = [path for path in kept if path.suffix == ".csv"]
    if clashing:
        raise RecordError(
            f"{clashing[0].name}: is there already, and was not understood: "
            f"{proposal.odd.get(clashing[0].name, 'its headers name no table')}; mend its headers "
            "or give it another name"
        )
    written = tuple(folder / name for name in files if folder / name not in kept)
    for path in written:
        with path.open("x", encoding="utf-8", newline="") as file:
            file.write(files[path.name])
    return Started(written, kept, proposal)


def _blank_guess(table: str) -> Guess:
    dates = "year" if table == "vehicles" else "day first"
    why = {"dates": YEAR_ALONE} if table == "vehicles" else {}
    columns = {ours: (theirs,) for ours, theirs in BLANKS[table].items()}
    return Guess(table, f"{table}.csv", None, columns, {"dates": dates}, {}, why)


def _blank_table(table: str, proposal: Proposal) -> str:
    """A table's header, and for vehicles the registrations that the job lines name."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(BLANKS[table].values())
    if table == "vehicles":
        cells = [cell for g in proposal.of("job_lines") for cell in g.cells("vehicle")]
        writer.writerows([registration, "", ""] for registration in registrations_named(cells))
    return text.getvalue()


def registrations_named(cells: Sequence[str]) -> list[str]:
    """Each registration once, however it is spelt, those with most lines first.

    >>> registrations_named(["QQ1 AAA", "QQ2 BBB", "QQ2 BBB", "qq2-bbb"])
    ['QQ2 BBB', 'QQ1 AAA']
    """
    spelt: dict[str, Counter[str]] = {}
    for cell in cells:
        plain = re.sub(r"[^A-Z0-9]", "", cell.upper())
        spelt.setdefault(plain, Counter())[cell] += 1
    most = sorted(spelt.values(), key=lambda spellings: -spellings.total())
    return [spellings.most_common(1)[0][0] for spellings in most]


def _catalogue_text(proposal: Proposal, *, today: date, pseudonym_key: str) -> str:
    looks, jobs = proposal.of("inspections"), proposal.of("job_lines")
    told = {
        **_conventions(jobs),
        "records_until": str(last_regular_day(_days(jobs)) or today),
        "observation_rule": NOTED
        if any("origin" in g.columns for g in looks)
        else TAKEN_AS_ORIGINAL,
        "pseudonym_key": pseudonym_key,
    }
    texts = [text for guess in jobs for text in guess.cells("text")]
    parts = [part for guess in looks for part in guess.cells("component")]
    return starter_catalogue([*texts, *parts], told)


def _conventions(jobs: Sequence[Guess]) -> dict[str, str]:
    """Money, distances and days as the job lines have them."""
    money = [
        *(c for guess in jobs for c in guess.header),
        *(c for g in jobs for c in g.cells("price")),
    ]
    named = Counter(
        currency
        for cell in money
        for currency, sign in CURRENCY_SIGNS.items()
        if sign in cell or re.search(rf"\b{currency}\b", cell)
    )
    metric = any(guess.settings.get("distance_unit") == "km" for guess in jobs)
    month_first = any(guess.settings["dates"] == "month first" for guess in jobs)
    return {
        "currency": named.most_common(1)[0][0] if named else next(iter(CURRENCY_SIGNS)),
        "distances_in": "kilometres" if metric else "miles",
        "date_format": "month day year" if month_first else "day month year",
    }


def _days(guesses: Sequence[Guess]) -> list[date]:
    days: list[date] = []
    for guess in guesses:
        layout = FileLayout("job_lines", "", {}, dates=str(guess.settings["dates"]))
        written = pl.DataFrame({"day": guess.cells("date")}, schema={"day": pl.String})
        days += written.select(read_date("day", layout)).to_series().drop_nulls().to_list()
    return days


def last_regular_day(days: Sequence[date]) -> date | None:
    """The last day before which work goes on; a few lone days long after it are slips of the year.

    >>> last_regular_day([date(2024, 1, 5), date(2024, 2, 9), date(2042, 2, 9)] * 60)
    datetime.date(2042, 2, 9)
    >>> last_regular_day([date(2024, 1, 5), date(2024, 2, 9)] * 60 + [date(2042, 2, 9)])
    datetime.date(2024, 2, 9)
    """
    ordered = sorted(days)
    gaps = [after - before for before, after in pairwise(ordered)]
    usual = sorted(gaps)[int(USUAL * len(gaps))] if gaps else GAP
    few = max(FEW, STRAGGLERS * len(ordered))
    for n in range(max(1, len(ordered) - int(few)), len(ordered)):
        if gaps[n - 1] > max(GAP, LONG * usual):
            return ordered[n - 1]
    return ordered[-1] if ordered else None
