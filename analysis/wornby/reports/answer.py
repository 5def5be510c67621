"""An answer as people and programs get it: one table, said in two ways."""

import html
import json
import math
from dataclasses import dataclass
from typing import Any

import polars as pl

ALL = "all together"
"""The name of a row that sums the others."""


@dataclass(frozen=True, eq=False, slots=True)
class Answer:
    """A titled table: `people` holds text to read, `frame` typed numbers to reckon with.

    Both have a row for each row of the other; `notes` say how the answer was come by.
    """

    title: str
    people: pl.DataFrame
    frame: pl.DataFrame
    notes: tuple[str, ...] = ()

    def __repr__(self) -> str:
        """The table as plain text."""
        from tabulate import tabulate

        table = tabulate(self.people.rows(), headers=self.people.columns, disable_numparse=True)
        notes = "".join(f"\n{note}" for note in self.notes)
        return f"{self.title}\n\n{table}\n{notes}".rstrip()

    def _repr_html_(self) -> str:
        """The table as a page shows it; every text is inert."""
        head = "".join(f"<th scope='col'>{html.escape(c)}</th>" for c in self.people.columns)
        body = "".join(
            "<tr>" + "".join(_cell(n, text) for n, text in enumerate(row)) + "</tr>"
            for row in self.people.rows()
        )
        notes = "".join(f"<p class='note'>{html.escape(note)}</p>" for note in self.notes)
        return (
            f"<figure class='answer'><figcaption>{html.escape(self.title)}</figcaption>"
            f"<div class='scroll'><table><thead><tr>{head}</tr></thead>"
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
        """The tables as a page shows them."""
        return "".join(answer._repr_html_() for answer in self.answers)


def _cell(column: int, text: Any) -> str:
    shown = html.escape("" if text is None else str(text))
    return f"<th scope='row'>{shown}</th>" if column == 0 else f"<td>{shown}</td>"


def _plain(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value
