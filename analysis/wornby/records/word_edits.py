"""Words for workshop.toml that would place lines which name no component yet."""

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
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
                f"{_spellings(len(runs))} it; leave out what means something else",
            )
        )
    return edits


def _spellings(n: int) -> str:
    return "1 spelling that nearly names" if n == 1 else f"{n} spellings that nearly name"


def new_components(unplaced: pl.DataFrame, catalogue: Catalogue) -> list[WordEdit]:
    """What is renewed often under a name that the catalogue does not have.

    A name that stands for other things in most of its lines ("clutch", where most bleed it) is
    none. Wordings of one part are one component.
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
    parts = {
        name: renewals
        for name, renewals in counted.items()
        if name not in catalogue.components
        and renewals >= MOSTLY * _lines(unplaced, [name], ()) > 0
    }
    return [
        _new_component(wordings, renewals, _lines(unplaced, wordings, ()))
        for wordings in one_part_each(parts)
        if (renewals := sum(parts[name] for name in wordings)) >= LEAST_LINES
    ]


def _new_component(wordings: Sequence[str], renewals: int, rows: int) -> WordEdit:
    because = f"renewed in {renewals:,} lines, and no component has it"
    if len(wordings) > 1:
        because += (
            f"; {len(wordings)} wordings, as it seems of one part: leave out one that means another"
        )
    line = f"[[component]]\nname = {toml_text(wordings[0])}\nwords = {toml_text(wordings)}"
    return WordEdit("at the end of the file", line, rows, because)


def one_part_each(names: Iterable[str]) -> list[list[str]]:
    """Wordings of one part together, the longest first, the part's name.

    A wording joins a longer one that has all its words and ends in the same, where only one does:
    "pads" may be the front ones or the rear. What a longer one has besides must be no part of its
    own: "front discs pads" are two.

    >>> one_part_each(["front pads", "front brake pads", "exhaust", "exhaust bracket"])
    [['front brake pads', 'front pads'], ['exhaust'], ['exhaust bracket']]
    >>> one_part_each(["pads", "front pad", "front pads", "rear pads"])
    [['pads'], ['front pad', 'front pads'], ['rear pads']]
    """
    groups: dict[tuple[str, ...], list[str]] = defaultdict(list)
    told = {name: _singular(name) for name in names}
    parts = {words[-1] for words in told.values()}
    for name, words in told.items():
        longer = {
            one
            for one in told.values()
            if one[-1] == words[-1] and {*words} < {*one} and not ({*one} - {*words}) & parts
        }
        longest = [one for one in longer if not any({*one} < {*other} for other in longer)]
        groups[longest[0] if len(longest) == 1 else words].append(name)
    return [sorted(group, key=lambda name: (-len(told[name]), name)) for group in groups.values()]


def _singular(name: str) -> tuple[str, ...]:
    return tuple(word.removesuffix("s") for word in name.split())


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
