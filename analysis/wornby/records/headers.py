"""Where a sheet's header stands, and which of its cells the layout means."""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from wornby.errors import RecordError
from wornby.records.layout import FileLayout

LOOKED_AT = 40
"""A header stands in one of so many first rows."""
NUMBERED = re.compile(
    r"^(?:q(?:uestion)?\s*)?\d+\s*[a-z]?\s*(?:[.:)\]](?!\d)|-\s)\s*|^q\d+\s+", re.IGNORECASE
)
"""What forms write before a question: "Q3. ", "12) "."""
MOST_NAMED, LONGEST_SHOWN = 30, 40
PLACE = "\ue000"
"""A sign for private use, in a pattern's place for the component's name."""
Cells = Sequence[str | None]


@dataclass(frozen=True, slots=True)
class Header:
    """A header found: the number of its first row from 0, how many rows it takes, and its names."""

    at: int
    depth: int
    names: tuple[str, ...]


def find_header(name: str, rows: Sequence[Cells], layout: FileLayout) -> Header:
    """The first row, or two rows, in which all columns that the layout names stand.

    A header is the layout's if they agree but for letters' case, spaces and a question's number.
    Where groups of columns have a title over them, "title, header" is a name too. RecordError
    names the column that is nowhere, and the header that comes nearest.
    """
    for depth in (1, 2):
        for at in range(len(rows) - depth + 1):
            spellings = _spellings(rows[at : at + depth])
            if spellings and _missing(spellings, layout) is None:
                return Header(at, depth, _named(name, spellings, layout))
    raise _no_header(name, rows, layout)


def holds_header(rows: Sequence[Cells], layout: FileLayout) -> bool:
    """Whether `find_header` would find one."""
    return any(
        (spellings := _spellings(rows[at : at + depth])) and _missing(spellings, layout) is None
        for depth in (1, 2)
        for at in range(len(rows) - depth + 1)
    )


def wanted_headers(layout: FileLayout) -> dict[str, str]:
    """Each header that the layout names, and our column that it is wanted for."""
    wanted = {name: ours for ours, names in layout.columns.items() for name in names}
    if layout.only_where is not None:
        wanted.setdefault(layout.only_where, "only_where")
    wanted.pop("row", None)
    return wanted


def plain_header(text: str) -> str:
    """A header as compared: small letters, single spaces, no marks of a form's own."""
    plain = unicodedata.normalize("NFKC", text)
    seen = "".join(c for c in plain if unicodedata.category(c) != "Cf")
    return re.sub(r"\s+", " ", seen).strip(" *:\"'").casefold()


def unnumbered(text: str) -> str:
    """A header without the number of its question."""
    return NUMBERED.sub("", text.strip(), count=1)


def patterns(layout: FileLayout) -> list[re.Pattern[str]]:
    """What columns that each component has of its own look like, the tellingest first."""
    each = sorted(layout.each_component.values(), key=len, reverse=True)
    split = [plain_header(header.replace("*", PLACE)).split(PLACE) for header in each]
    return [re.compile(re.escape(a) + "(.+)" + re.escape(b)) for a, b in split]


def _spellings(rows: Sequence[Cells]) -> list[tuple[str, ...]]:
    """What each column may be called, the fullest name first; nothing where a row is blank."""
    cells = [[(cell or "").strip() for cell in row] for row in rows]
    if any(not any(row) for row in cells):
        return []
    if len(cells) == 1:
        return [(cell,) for cell in cells[0]]
    upper, lower = cells
    width = max(len(upper), len(lower))
    upper, lower = (row + [""] * (width - len(row)) for row in (upper, lower))
    carried, made = "", []
    for over, under in zip(upper, lower, strict=True):
        carried = over or (carried if under else "")
        both = f"{carried}, {under}" if carried and under else carried or under
        made.append(tuple(dict.fromkeys((both, under or carried))))
    return made


def _alike(spellings: list[tuple[str, ...]], wanted: str) -> list[int]:
    """The columns that bear a name, by the strictest way of comparing under which any does."""
    for way in (str.strip, plain_header, lambda text: plain_header(unnumbered(text))):
        meant = way(wanted)
        for level in (0, 1):
            found = [
                n for n, names in enumerate(spellings)
                if level < len(names) and names[level] and way(names[level]) == meant
            ]  # fmt: skip
            if found:
                return found
    return []


def _missing(spellings: list[tuple[str, ...]], layout: FileLayout) -> str | None:
    """The first header wanted that no column bears; "" where no component has its columns."""
    for wanted in wanted_headers(layout):
        if not _alike(spellings, wanted):
            return wanted
    told = patterns(layout)
    if told and not any(
        told[0].fullmatch(plain_header(way(name)))
        for names in spellings
        for name in names
        for way in (str.strip, unnumbered)
    ):
        return ""
    return None


def _named(name: str, spellings: list[tuple[str, ...]], layout: FileLayout) -> tuple[str, ...]:
    """Each column's name: the layout's own where it means it, else as written, told apart."""
    meant: dict[int, str] = {}
    for wanted in wanted_headers(layout):
        found = _alike(spellings, wanted)
        if len(found) > 1:
            raise RecordError(
                f"{name}: the header {wanted!r} stands twice; give each column its own"
            )
        meant.setdefault(found[0], wanted)
    names: list[str] = []
    for n, written in enumerate(spellings):
        own = meant.get(n) or _readable(written[0], layout) or f"no header {n + 1}"
        taken = own in names or (n not in meant and own in meant.values())
        names.append(f"{own} (column {n + 1})" if taken else own)
    return tuple(names)


def _readable(written: str, layout: FileLayout) -> str:
    """A header without its question's number, where components have columns of their own."""
    each = layout.each_component.values()
    numbered = any(unnumbered(pattern) != pattern for pattern in each)
    return unnumbered(written) if each and not numbered else written


def _no_header(name: str, rows: Sequence[Cells], layout: FileLayout) -> RecordError:
    """What to say where no row is the header: the row that comes nearest, and what it lacks."""
    all_spellings = [found for row in rows if (found := _spellings([row]))]
    if not all_spellings:
        return RecordError(f"{name}: is empty; export it again")
    wanted = wanted_headers(layout)
    best = max(all_spellings, key=lambda found: sum(bool(_alike(found, w)) for w in wanted))
    lacking = _missing(best, layout) or ""
    there = [" ".join(names[0].split())[:LONGEST_SHOWN] for names in best if names[0]]
    has = ", ".join(there[:MOST_NAMED]) + (" and more" if len(there) > MOST_NAMED else "")
    if not lacking:
        sought = " and ".join(repr(header) for header in layout.each_component.values())
        return RecordError(
            f"{name}: no component has the columns {sought} (* is its name); it has {has}"
        )
    near = get_close_matches(plain_header(lacking), [plain_header(h) for h in there], n=1)
    nearest = "".join(f", the nearest is {h!r}" for h in there if near == [plain_header(h)])
    return RecordError(
        f"{name}: no column {lacking!r} (layout.toml wants it for {wanted[lacking]}){nearest}; "
        f"it has {has}"
    )
