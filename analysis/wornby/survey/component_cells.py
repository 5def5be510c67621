"""Answers on components as written, whether the form gives each a column or a row."""

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TypeAlias

import polars as pl

from wornby.records.cells import in_our_words
from wornby.records.headers import patterns, plain_header
from wornby.records.layout import FileLayout
from wornby.records.loading import header_names, load_text
from wornby.survey.typed_answers import known_as
from wornby.tables import COMPONENT_ANSWERS

SEVERAL = r"[;,|\n]| and | & | \+ "
"""What stands between components in a cell that names several."""
TOLD_AS = {"reason": "reason_written", "grade": "grade_written"}
Names: TypeAlias = Mapping[str, str]
"""Patterns, and the component that each names."""


def written_answers(folder: Path, layout: FileLayout, names: Names) -> pl.DataFrame:
    """Every answer of a file as text in our words, a row for each component."""
    if layout.each_component:
        rows = _from_wide(folder, layout, names)
    else:
        rows = load_text(folder, layout)
        pieces = [_pieces(cell, names) for cell in rows["component"].to_list()]
        rows = rows.with_columns(component=pl.Series(pieces, dtype=pl.List(pl.String)))
        rows = rows.explode("component", empty_as_null=True)
    # what a judged row is called its reason for is another thing than why a part was renewed
    ours = [
        _worded(name, layout, rows).alias(TOLD_AS.get(name, name))
        for name in COMPONENT_ANSWERS.columns
    ]
    return rows.select(
        "file",
        "row",
        "out_of_place",
        *ours,
        known_as=known_as("respondent"),
        order=pl.lit(layout.dates),
        unit=pl.lit(layout.distance_unit),
        asked_again=pl.lit("again" in layout.columns or "again" in layout.each_component),
    )


def _worded(name: str, layout: FileLayout, rows: pl.DataFrame) -> pl.Expr:
    column = pl.col(name) if name in rows.columns else pl.lit(None, pl.String)
    return in_our_words(column, layout.words.get(name, {})).alias(name)


def _from_wide(folder: Path, layout: FileLayout, names: Names) -> pl.DataFrame:
    """One row for each respondent and component from columns named after components."""
    headers = header_names(folder, layout)
    found = {name: _headers_of(name, headers, layout) for name in _named_in(headers, layout, names)}
    columns = {
        f"{ours} {n}": (header,)
        for n, by_field in enumerate(found.values())
        for ours, header in by_field.items()
    }
    whole = replace(layout, columns={**layout.columns, **columns}, each_component={})
    text = load_text(folder, whole)
    kept = ["file", "row", "out_of_place", *layout.columns, *layout.constants]
    return pl.concat(
        text.select(
            *kept,
            pl.lit(name).alias("component"),
            *(
                (pl.col(f"{ours} {n}") if ours in by_field else pl.lit(None, pl.String)).alias(ours)
                for ours in layout.each_component
            ),
        )
        for n, (name, by_field) in enumerate(found.items())
    )


def _headers_of(name: str, headers: list[str], layout: FileLayout) -> dict[str, str]:
    """Our columns, and the headers that stand there for one component."""
    meant = {ours: plain_header(h.replace("*", name)) for ours, h in layout.each_component.items()}
    there = {plain_header(header): header for header in reversed(headers)}
    return {ours: there[header] for ours, header in meant.items() if header in there}


def _named_in(headers: list[str], layout: FileLayout, names: Names) -> list[str]:
    """The components that have columns of their own, in their order.

    A header that is nothing but a name counts where the catalogue knows the name, or where the
    tellingest of the patterns names it too.
    """
    tellingest = patterns(layout)[0]
    named = dict.fromkeys(
        found[1] for h in headers if (found := tellingest.fullmatch(plain_header(h)))
    )
    alone = "*" in layout.each_component.values()
    known = {name.casefold() for name in names.values()} if alone else set()
    in_order = [plain_header(h) for h in headers if plain_header(h) in known | set(named)]
    return list(dict.fromkeys([*in_order, *named]))


def _pieces(cell: str | None, names: Names) -> list[str | None]:
    """The components that a cell names: "pump, thermostat" names two."""
    if cell is None or (names and called(cell, names) is not None):
        return [cell]
    return [piece.strip() for piece in re.split(SEVERAL, cell) if piece.strip()] or [None]


def called(text: str, names: Names) -> str | None:
    """The one component that a text names; the text itself where no names are known."""
    low = text.strip().lower()
    if not names:
        return low
    if same := [name for name in names.values() if name.lower() == low]:
        return same[0]
    said = {name for pattern, name in names.items() if re.search(pattern, low)}
    return said.pop() if len(said) == 1 else None
