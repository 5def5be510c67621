"""How a column's cells seem to be written: dates, decimal marks, distances, words."""

import re
from collections import Counter
from collections.abc import Mapping, Sequence

import polars as pl

from wornby.records.layout import FileLayout
from wornby.records.values import read_date

ORDERS = ("year first", "day first", "month first", "year and month", "year")
KNOWN = ("labour", "part", "consumable", "sublet", "other", "sound", "degraded", "failed",
         "original", "renewed", "unknown")  # fmt: skip
MOST_WORDS = 25
Found = tuple[str, str]


def order_of_dates(cells: Sequence[str]) -> Found:
    """The order of dates under which most cells can be read, and how many.

    >>> order_of_dates(["03/04/2015", "25/04/2015"])
    ('day first', '2 of 2 can be read so')
    """
    if not cells:
        return "year first", "nothing is written yet"
    frame = pl.DataFrame({"day": cells})
    read = {order: frame.select(_read(order)).to_series().count() for order in ORDERS}
    best = max(ORDERS, key=lambda order: read[order])
    reason = f"{read[best]:,} of {len(cells):,} can be read so"
    if best == "day first" and read["month first"] == read[best]:
        reason += ", and as many the month first: see whether the day stands first"
    return best, reason


def _read(order: str) -> pl.Expr:
    return read_date("day", FileLayout("job_lines", "", {}, dates=order))


def decimal_mark_of(cells: Sequence[str]) -> Found:
    """The mark before the last one or two digits of most numbers; none where all are whole."""
    marks = Counter(found[1] for cell in cells if (found := re.search(r"([.,])\d{1,2}$", cell)))
    if not marks:
        return "", ""
    mark, n = marks.most_common(1)[0]
    return mark, f"{n:,} of {sum(marks.values()):,} numbers with a mark have it"


def unit_of(headers: Sequence[str] | None, cells: Sequence[str]) -> Found:
    """Miles or kilometres, by the header, else by what the cells say."""
    if not headers:
        return "", ""
    km = re.search(r"(?i)\bkms?\b|kilomet", headers[0])
    said = sum("km" in cell.lower() for cell in cells)
    if km or said > len(cells) / 2:
        return "km", "the header or most cells say so"
    return "mi", "nothing says kilometres"


def with_or_without_tax(headers: Sequence[str] | None) -> Found:
    """Whether prices hold tax, by their header."""
    if not headers:
        return "", ""
    if re.search(r"(?i)\binc|gross|with tax", headers[0]):
        return "gross", "the header says so"
    said = re.search(r"(?i)\bnet\b|\bex", headers[0])
    return "net", "the header says so" if said else "the header does not say: see whether it holds"


def guessed_words(cells: Sequence[str], beginnings: Mapping[str, str]) -> dict[str, str]:
    """The words of a column that are not ours, and ours for them by how they begin."""
    theirs = [word for word, _ in Counter(cells).most_common(MOST_WORDS)]
    told = {}
    for word in theirs:
        plain = word.lower()
        ours = next((o for start, o in beginnings.items() if plain.startswith(start)), None)
        if plain not in KNOWN and ours is not None:
            told[word] = ours
    return told
