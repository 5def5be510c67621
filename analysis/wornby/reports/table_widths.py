"""How wide the columns of a printed table are, and how large its letters may be."""

import re
from dataclasses import dataclass

SIZES = (8.5, 8.0, 7.5, 7.0)
"""Points; a table takes the largest that fits its words."""
UPRIGHT, ACROSS = 487.0, 734.0
"""Points between the margins of an A4 page."""
INSETS = 6.5
LETTER, CAPITAL = 0.5, 0.72
"""Widths of the text's font in ems, on the wide side."""
LONG_WORD = 18
BREAK = "\u200b"
"""Where a word may go on in the next line: a space without width."""


@dataclass(frozen=True, slots=True)
class Fit:
    """Widths of the columns and size of letters in points; `wide` on a page turned across."""

    widths: list[float]
    size: float
    wide: bool


def breakable(text: str) -> str:
    """A text whose longest words may go on in the next line.

    >>> breakable("0123456789" * 2 + " hose").replace(BREAK, "|")
    '012345678901234567|89 hose'
    """
    return re.sub(rf"(\S{{{LONG_WORD}}})(?=\S)", rf"\1{BREAK}", text)


def fitted(head: list[str], rows: list[list[str]]) -> Fit:
    """The largest letters at which no word is broken that need not be, and widths to match."""
    columns = list(zip(head, *rows, strict=True))
    words = [max(_width(w) for text in column for w in _words(text)) for column in columns]
    cells = [max(map(_width, column)) for column in columns]
    for page, wide in ((UPRIGHT, False), (ACROSS, True)):
        for size in SIZES:
            least = [size * w + INSETS for w in words]
            if sum(least) <= page:
                return Fit(_shared(least, [size * c + INSETS for c in cells], page), size, wide)
    least = [SIZES[-1] * w + INSETS for w in words]
    return Fit([ACROSS * w / sum(least) for w in least], SIZES[-1], wide=True)


def _words(text: str) -> list[str]:
    return breakable(text).replace(BREAK, " ").split() or [""]


def _width(text: str) -> float:
    """In ems."""
    return sum(CAPITAL if letter.isupper() else LETTER for letter in text)


def _shared(least: list[float], wanted: list[float], page: float) -> list[float]:
    """What is left over goes to the columns that want more, in proportion."""
    if sum(wanted) <= page:
        return [round(width, 1) for width in wanted]
    more = [want - have for want, have in zip(wanted, least, strict=True)]
    left = page - sum(least)
    return [
        round(have + left * want / sum(more), 1) for have, want in zip(least, more, strict=True)
    ]
