"""What each number means: in short for the owner, in full for the statistician, with sources."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import polars as pl

from wornby.reports.answer import Answer

NOTES = Path(__file__).with_name("methods.toml")


@dataclass(frozen=True, slots=True)
class MethodNote:
    """One number that reports show, and what it means in two lengths."""

    number: str
    owner: str
    statistician: str
    sources: tuple[str, ...]


@cache
def method_notes() -> tuple[MethodNote, ...]:
    """All notes, in the order in which a reader meets the numbers."""
    stated = tomllib.loads(NOTES.read_text(encoding="utf-8"))["note"]
    return tuple(
        MethodNote(note["number"], note["owner"], note["statistician"], tuple(note["sources"]))
        for note in stated
    )


def notes_on(word: str | None) -> tuple[MethodNote, ...]:
    """The notes whose number, or else whose text, has the word; all of them without one.

    >>> [note.number for note in notes_on("B10")]
    ['B10 life']
    """
    if word is None:
        return method_notes()
    asked = word.casefold()
    named = tuple(note for note in method_notes() if asked in note.number.casefold())
    told = named or tuple(
        note for note in method_notes() if asked in f"{note.owner} {note.statistician}".casefold()
    )
    if not told:
        known = ", ".join(note.number for note in method_notes())
        raise ValueError(f"no note on {word!r}; there are {known}")
    return told


def meaning_answer(*numbers: str) -> Answer:
    """What these numbers, or all of them, mean: in a sentence or two each."""
    notes = [note for n in numbers for note in notes_on(n)] or method_notes()
    rows = [(note.number, note.owner) for note in notes]
    table = pl.DataFrame(rows, schema=["number", "what it means"], orient="row")
    return Answer("What the numbers mean", table, table)


def method_answer(word: str | None = None) -> Answer:
    """What the numbers mean and how they are come by, in full, with the sources."""
    rows = [
        (note.number, note.owner, note.statistician, "; ".join(note.sources))
        for note in notes_on(word)
    ]
    names = ["number", "for the owner", "for the statistician", "sources"]
    table = pl.DataFrame(rows, schema=names, orient="row")
    return Answer("What the numbers mean, and how they are come by", table, table)


def explained(word: str | None) -> str:
    """The notes as running text, for a terminal."""
    from textwrap import fill

    return "\n\n".join(
        "\n".join(
            (
                note.number,
                *(
                    fill(text, 88, initial_indent="  ", subsequent_indent="  ")
                    for text in (
                        note.owner,
                        f"For the statistician: {note.statistician}",
                        f"Sources: {'; '.join(note.sources)}.",
                    )
                ),
            )
        )
        for note in notes_on(word)
    )
