"""Cells cleaned of what no eye sees, and blank ones left blank."""

from collections.abc import Mapping, Sequence

import polars as pl

INVISIBLE = r"[\u00ad\u061c\u200b-\u200f\u202a-\u202e\u2060-\u2064\u2066-\u2069\ufeff\ufffc]"
"""Marks of direction, joiners and soft hyphens."""
SPACES = r"[\u00a0\u1680\u2000-\u200a\u202f\u205f\u3000]"
PLAIN_SIGNS = {chr(0xFF01 + n): chr(0x21 + n) for n in range(94)} | {
    chr(start + digit): str(digit) for start in (0x0660, 0x06F0) for digit in range(10)
}
"""Full-width signs and Arabic digits, and the plain signs that they stand for."""
DASHES = "-\u2010\u2011\u2012\u2013\u2014\u2015._ \t\n"
"""A cell of nothing but these says that nothing was written."""
SHEET_ERRORS = ("#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!")
"""What a spreadsheet shows where a formula has failed: nothing was written there."""
QUOTED = r'^"([^"]*)"$'
"""Quotation marks that a space before them has kept from being read as such."""


def as_written(
    frame: pl.DataFrame, headers: Sequence[str], missing: Sequence[str]
) -> list[pl.Expr]:
    """Each of the columns as text without spaces around it, null where nothing is written.

    >>> odd = pl.DataFrame({"miles": ["\u200e\uff18\uff14\u00a0000 ", "\u2013", "n/a"]})
    >>> odd.select(as_written(odd, ["miles"], ["n/a"]))["miles"].to_list()
    ['84 000', None, None]
    """
    return [_written(header, missing, frame[header]) for header in headers]


def _written(header: str, missing: Sequence[str], cells: pl.Series) -> pl.Expr:
    text = pl.col(header)
    if (cells.str.len_bytes() != cells.str.len_chars()).any():
        seen = text.str.replace_all(INVISIBLE, "").str.replace_all(SPACES, " ")
        text = seen.str.replace_many(PLAIN_SIGNS)
    text = text.str.strip_chars()
    if cells.str.contains('"', literal=True).any():
        text = text.str.replace(QUOTED, "$1")
    blank = (text.str.strip_chars(DASHES) == "") | text.is_in([*SHEET_ERRORS, *missing])
    return pl.when(~blank).then(text).alias(header)


def in_our_words(column: pl.Expr, words: Mapping[str, str]) -> pl.Expr:
    """A column with the layout's [file.words] put into ours, whatever the letters' case.

    >>> pl.DataFrame({"body": ["lwb", "short"]}).select(
    ...     in_our_words(pl.col("body"), {"LWB": "long"})
    ... )["body"].to_list()
    ['long', 'short']
    """
    if not words:
        return column
    plain = {theirs.strip().lower(): ours for theirs, ours in words.items()}
    found = column.str.to_lowercase().replace_strict(plain, default=None, return_dtype=pl.String)
    return pl.coalesce(found, column)


def one_spelling(column: pl.Expr) -> pl.Expr:
    """A column in small letters with single spaces: names that differ in no more are one.

    >>> pl.DataFrame({"body": ["Long  Wheelbase"]}).select(one_spelling(pl.col("body"))).item()
    'long wheelbase'
    """
    return column.str.to_lowercase().str.replace_all(r"\s+", " ").str.strip_chars()
