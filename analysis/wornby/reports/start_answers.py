"""Answers on a folder that is being started: what was written, guessed, and is still to fill."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import polars as pl

from wornby.records.layout_writing import toml_text
from wornby.records.proposal import Proposal
from wornby.records.starting import Started
from wornby.reports.answer import Answer

TO_FILL = {
    "vehicles": "one row a vehicle: registration, first registration (the year will do)",
    "job_lines": "one row a line of a job: registration, date, what was done",
    "inspections": "one row a look: which part, sound, degraded or failed; may stay blank",
    "readings": "one row a reading: registration, date, miles; may stay blank",
}


def started_answer(folder: Path, started: Started) -> Answer:
    """What was written, what was there and stays, what was not understood, and what comes next."""
    odd = {name: f"not understood: {why}" for name, why in started.proposal.odd.items()}
    rows = [(path.name, "written") for path in started.written]
    rows += [(path.name, "there already, left as it is") for path in started.kept]
    frame = pl.DataFrame([*rows, *odd.items()], schema=["file", "what"], orient="row")
    notes = [f"Next: see what layout.toml says, then `wornby read {folder}`."]
    if folder / "vehicles.csv" in started.written:
        notes.insert(0, "Write first registrations into vehicles.csv: no age is known without one.")
    if folder / "workshop.toml" in started.written:
        notes.insert(0, "Every price, hour and chance in workshop.toml is invented: put your own.")
    return Answer(f"Started {folder}", frame, frame, tuple(notes))


def guess_answer(proposal: Proposal) -> Answer:
    """What each file was taken for, column by column, and what each guess rests on."""
    rows = [
        (guess.path, guess.table, key, value, guess.why.get(key, ""))
        for guess in proposal.guesses
        for key, value in (
            *((ours, " and ".join(theirs)) for ours, theirs in guess.columns.items()),
            *((key, str(value)) for key, value in guess.settings.items()),
            *((f"words: {ours}", _words(words)) for ours, words in guess.words.items()),
            *((("not read", ", ".join(guess.left)),) if guess.left else ()),
        )
    ]
    names = ["file", "table", "what", "guess", "because"]
    frame = pl.DataFrame(rows, schema=dict.fromkeys(names, pl.String), orient="row")
    return Answer("What was guessed, as it stands in layout.toml", frame, frame)


def _words(words: Mapping[str, str]) -> str:
    return ", ".join(f"{toml_text(theirs)} is {ours}" for theirs, ours in words.items())


def blank_answer(rows: Sequence[tuple[str, str, int]]) -> Answer:
    """Which tables of a folder hold nothing yet, from table, path and number of rows."""
    frame = pl.DataFrame(
        [(path, table, n, "" if n else TO_FILL.get(table, "")) for table, path, n in rows],
        schema={"file": pl.String, "table": pl.String, "rows": pl.Int64, "to fill": pl.String},
        orient="row",
    )
    return Answer(
        "Nothing to read yet",
        frame.with_columns(pl.col("rows").cast(pl.String)),
        frame,
        ("Lives need vehicles and job lines. Fill the tables, or name your own in layout.toml.",),
    )
