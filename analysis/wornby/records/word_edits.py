"""Words for workshop.toml that would place lines which name no component yet."""

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from wornby.records.catalogue import Catalogue
from wornby.records.layout_writing import toml_text
from wornby.records.wording import words_pattern

LEAST_LINES = 2
MOSTLY = 0.5
LONGEST_NAME = 3
FILLING = (
    "a", "an", "and", "annual", "assy", "at", "c/w", "check", "checked", "complete", "due", "for",
    "found", "from", "in", "inc", "incl", "inspection", "is", "kit", "of", "off", "on", "out",
    "remove", "removed", "service", "set", "test", "the", "to", "was", "with", "x",
)  # fmt: skip
"""Words that name no part by themselves."""


@dataclass(frozen=True, slots=True)
class WordEdit:
    """A line of workshop.toml, under which heading, and how many lines it places."""

    under: str
    line: str
    rows: int
    because: str


def spellings_to_add(unplaced: pl.DataFrame, catalogue: Catalogue) -> list[WordEdit]:
    """For each component that texts almost name, its words with their spellings added."""
    near: dict[str, list[str]] = defaultdict(list)
    for told in unplaced.filter(pl.col("near_match") != "")["near_match"]:
        run, _, name = told.rpartition(" ~ ")
        if "#" not in run and run not in near[name]:
            near[name].append(run)
    edits = []
    for name, runs in ((name, runs) for name, runs in near.items() if runs):
        component = catalogue.components[name]
        edits.append(
            WordEdit(
                f"[[component]] name = {toml_text(name)}, in place of its words",
                f"words = {toml_text([*component.words, *runs])}",
                _lines(unplaced, runs, component.not_words),
                f"{len(runs)} {'spellings' if len(runs) > 1 else 'spelling'} that nearly name it; "
                "leave out what means something else",
            )
        )
    return edits


def new_components(unplaced: pl.DataFrame, catalogue: Catalogue) -> list[WordEdit]:
    """What is renewed often under a name that the catalogue does not have.

    A name that stands for other things in most of its lines ("clutch", where most bleed it) is
    none.
    """
    work = [word for follow_on in catalogue.follow_on.values() for word in follow_on.words]
    other = words_pattern([*catalogue.words.routine, *work])
    renewed = words_pattern(catalogue.words.renewed)
    text = pl.col("text")
    about = unplaced.filter(
        (pl.col("near_match") == "") & text.str.contains(renewed) & ~text.str.contains(other)
    )
    rest = _without(catalogue)
    counted: dict[str, int] = defaultdict(int)
    for said, lines in about.select("text", "lines").iter_rows():
        if name := _part_named(said, rest):
            counted[name] += lines
    edits = []
    for name, renewals in counted.items():
        rows = _lines(unplaced, [name], ())
        if renewals >= max(LEAST_LINES, MOSTLY * rows) and name not in catalogue.components:
            line = f"[[component]]\nname = {toml_text(name)}\nwords = {toml_text([name])}"
            because = f"renewed in {renewals:,} lines, and no component has it"
            edits.append(WordEdit("at the end of the file", line, rows, because))
    return edits


def _without(catalogue: Catalogue) -> re.Pattern[str]:
    """All that a text says besides the part: what was done, found and fitted, and where."""
    spoken = catalogue.words
    places = [word for words in spoken.positions.values() for word in words]
    grades = [word for words in spoken.grades.values() for word in words]
    said = [
        *spoken.renewed, *spoken.failure, *spoken.degraded, *spoken.preventive, *spoken.sound,
        *spoken.negation, *FILLING, *places, *grades,
    ]  # fmt: skip
    return re.compile(words_pattern(said))


def _part_named(text: str, rest: re.Pattern[str]) -> str:
    """The words of a text's first clause that are left of it; nothing where they are many."""
    for clause in re.split(r"[;,+&.:()\[\]]|\s-\s|\bthen\b", text):
        # One word's end is the next one's beginning: twice takes out neighbours, too.
        left = rest.sub(" ", rest.sub(" ", f" {clause} ".replace(" ", "  ")))
        words = re.sub(r"[^a-z /-]", " ", left).split()
        if words and len(words) <= LONGEST_NAME and any(len(word) > 2 for word in words):
            return " ".join(words)
        if words:
            return ""
    return ""


def _lines(unplaced: pl.DataFrame, words: Sequence[str], not_words: Sequence[str]) -> int:
    text = pl.col("text")
    meant = text.str.contains(words_pattern(words)) & ~text.str.contains(words_pattern(not_words))
    return int(unplaced.filter(meant)["lines"].sum())
