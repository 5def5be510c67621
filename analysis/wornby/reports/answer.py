"""An answer as people and programs get it: one table, said in two ways."""

import html
import json
import math
import re
from collections.abc import Set
from dataclasses import dataclass
from typing import Any, Self

import polars as pl

from wornby.reports.shown_text import LONGEST_SENTENCE, shown

INERT_IN_JUPYTER = "mathjax_ignore tex2jax_ignore"
"""What keeps Jupyter from reading dollar signs in a table or sentence as formulas."""
NUMBER = re.compile(r"-?[£$€]?[\d.,]+(\s?%)?")
WITH_UNIT = re.compile(
    r"(?<![\w.,&#])\d[\d.,]{0,11}(?:[ \u00a0](?:%|years|miles|kilometres|months|days|hours))(?!\w)"
    r"|(?<![\w.,&#])\d{1,3}(?:,\d{3})+(?![\w.,])"
)
"""A number of so many digits that is not parted from its unit, nor within."""
ALL = "all together"
"""The name of a row that sums the others."""
NOTHING: frozenset[str] = frozenset()
CAUTIONS = "cautions"
"""The place on a page where they are told."""


class Caution(str):
    """A note that keeps somebody from harm; `about` says in a few words from what.

    An answer by itself carries its cautions in full wherever it goes. A page that tells them once
    for all its answers has each refer to them by what they are about.
    """

    about: str

    def __new__(cls, about: str, text: str) -> Self:
        """The note, with what it is about."""
        made = super().__new__(cls, text)
        made.about = about
        return made


@dataclass(frozen=True, eq=False, slots=True)
class Answer:
    """A titled table: `people` holds text to read, `frame` typed numbers to reckon with.

    Both have a row for each row of the other, or, with `a_row_a_cell`, `frame` has one for each
    cell of `people`; `notes` say how the answer was come by.
    """

    title: str
    people: pl.DataFrame
    frame: pl.DataFrame
    notes: tuple[str, ...] = ()
    a_row_a_cell: bool = False

    def __repr__(self) -> str:
        """The table as plain text."""
        from tabulate import tabulate

        head, *rows = self.texts()
        table = tabulate(rows, headers=head, disable_numparse=True)
        notes = "".join(f"\n{note}" for note in self.told_notes())
        return f"{shown(self.title)}\n\n{table}\n{notes}".rstrip()

    def texts(self) -> list[list[str]]:
        """The table to read, its heads first, every text inert and of bearable length."""
        return [[shown(text) for text in row] for row in (self.people.columns, *self.people.rows())]

    def told_notes(self, told: Set[str] = NOTHING) -> list[str]:
        """The notes as a reader gets them, without cautions about what was `told` already."""
        return [
            shown(note, longest=LONGEST_SENTENCE)
            for note in self.notes
            if not (isinstance(note, Caution) and note.about in told)
        ]

    def cautions(self) -> list[Caution]:
        """The notes that keep somebody from harm."""
        return [note for note in self.notes if isinstance(note, Caution)]

    def referred(self, told: Set[str]) -> str:
        """What the cautions told already are about, where there are such: "hot coolant, brakes"."""
        return ", ".join(one.about for one in self.cautions() if one.about in told)

    def _repr_html_(self) -> str:
        """The table with all its notes; every text is inert, in Jupyter's formulas as well."""
        return self.as_html()

    def as_html(self, told: Set[str] = NOTHING) -> str:
        """The table as a page shows it that tells cautions about what is `told` once for all."""
        head, *rows = self.texts()
        kinds = ["number" if n in number_columns(rows) else "" for n in range(len(head))]
        title = html.escape(shown(self.title))
        top = "".join(_cell("th scope='col'", *cell) for cell in zip(head, kinds, strict=True))
        body = "".join(f"<tr>{_row(row, kinds)}</tr>" for row in rows)
        notes = "".join(f"<p class='note'>{with_code(note)}</p>" for note in self.told_notes(told))
        if about := self.referred(told):
            notes += (
                f"<p class='note'><a href='#{CAUTIONS}'>Cautions</a>: {html.escape(about)}.</p>"
            )
        return (
            f"<figure class='answer {INERT_IN_JUPYTER}'><figcaption>{title}</figcaption>"
            f"<div class='scroll' role='group' tabindex='0' aria-label='{title}'>"
            f"<table><thead><tr>{top}</tr></thead>"
            f"<tbody>{body}</tbody></table></div>{notes}</figure>"
        )

    def as_json(self) -> str:
        """The typed table for programs; what is out of reach or without limit is null."""
        rows = [{k: _plain(v) for k, v in row.items()} for row in self.frame.to_dicts()]
        return json.dumps(
            {"title": self.title, "rows": rows, "notes": list(self.notes)},
            ensure_ascii=False,
            indent=2,
            default=str,
        )


@dataclass(frozen=True, eq=False, slots=True)
class Answers:
    """Several answers, one under the other."""

    answers: tuple[Answer, ...]

    def __repr__(self) -> str:
        """The tables as plain text."""
        return "\n\n".join(repr(answer) for answer in self.answers)

    def _repr_html_(self) -> str:
        return self.as_html()

    def as_html(self, told: Set[str] = NOTHING) -> str:
        """The tables as a page shows them that tells cautions about what is `told` once for all."""
        return "".join(answer.as_html(told) for answer in self.answers)


def number_columns(rows: list[list[str]]) -> set[int]:
    """Which columns hold nothing but numbers, and are read from their right end.

    >>> number_columns([["hose", "£1,200", "6.3 (5.1 to 7.4)"], ["pump", "£80", "4.0 or more"]])
    {1}
    """
    columns = enumerate(zip(*rows, strict=True))
    return {
        n
        for n, texts in columns
        if any(texts) and all(NUMBER.fullmatch(text) for text in texts if text)
    }


def _row(row: list[str], kinds: list[str]) -> str:
    tags = ["th scope='row'", *["td"] * (len(row) - 1)]
    return "".join(_cell(*cell) for cell in zip(tags, row, kinds, strict=True))


def _cell(tag: str, text: str, kind: str) -> str:
    opened = f"{tag} class='{kind}'" if kind else tag
    body = WITH_UNIT.sub(r"<span class='whole'>\g<0></span>", html.escape(text))
    return f"<{opened}>{body}</{tag[:2]}>"


def with_code(text: str) -> str:
    """The text escaped for a page; what stands in backticks is something to type.

    >>> with_code("ask `wornby read` & see")
    'ask <code>wornby read</code> &amp; see'
    """
    return re.sub("`([^`]+)`", r"<code>\1</code>", html.escape(text))


def _plain(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value
