"""A report as a PDF: numbered pages, heads repeated over every page of a table, nothing cut off."""

import json
import re
from collections.abc import Sequence, Set
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from wornby.reports.answer import Answer, Answers, number_columns
from wornby.reports.figures import Drawing, Drawings
from wornby.reports.markdown import as_blocks
from wornby.reports.notebook_run import Code, Piece, Prose, Shown
from wornby.reports.pages import cautions_told, report_title
from wornby.reports.sentences import InBrief, Sentences
from wornby.reports.shown_text import LONGEST_SENTENCE, shown
from wornby.reports.table_widths import UPRIGHT, breakable, fitted

TEMPLATE = Path(__file__).with_name("printed.typ")
HIGHEST_PICTURE = 690.0
"""Points, so that its legend stays on the page; a higher one is a sheet of its own."""


def pdf_pages(pieces: Sequence[Piece], *, about: str, shows_code: bool) -> bytes:
    """The pages; a reader of the file aloud finds its title, heads and pictures in words."""
    import typst

    told = cautions_told(pieces)
    blocks = [block for piece in pieces for block in _blocks(piece, told, shows_code=shows_code)]
    first_part = next((n for n, b in enumerate(blocks) if _is_part(b)), len(blocks))
    blocks.insert(first_part, {"kind": "contents"})
    for block, following in zip(blocks, [*blocks[1:], {}], strict=True):
        block["leads"] = following.get("kind") == "table" or following.get("sheet") is False
    title = report_title(pieces) or about
    report = json.dumps({"title": title, "about": about, "pieces": blocks})
    made: bytes = typst.compile(TEMPLATE, sys_inputs={"report": report}, font_paths=[_fonts()])
    return made


def _fonts() -> Path:
    """Where the figures' own font lies, for letters that the text's font lacks."""
    found = find_spec("matplotlib")
    if found is None or found.origin is None:
        raise ImportError("matplotlib is not installed")
    return Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"


def _is_part(block: dict[str, Any]) -> bool:
    return (block["kind"], block.get("level")) == ("heading", 2)


def _blocks(piece: Piece, told: Set[str], *, shows_code: bool) -> list[dict[str, Any]]:
    match piece:
        case Prose(text):
            return as_blocks(text)
        case Code(text):
            return [{"kind": "code", "text": text}] if shows_code else []
        case Shown(InBrief(sentences)):
            return _shown(sentences, told)
        case Shown(value):
            return _shown(value, told)


def _shown(value: object, told: Set[str]) -> list[dict[str, Any]]:
    match value:
        case Answers(answers):
            return [block for answer in answers for block in _shown(answer, told)]
        case Answer():
            return [_table(value, told)]
        case Sentences():
            kind = "caution" if value.style == "caution" else "list"
            return [{"kind": kind, "items": [_spans(text) for text in value.texts()]}]
        case Drawings(drawings, legend):
            return [_pictures(drawings, legend)]
        case Drawing():
            return [_pictures((value,), value.legend)]
    return [{"kind": "paragraph", "spans": [_plain(shown(repr(value), longest=LONGEST_SENTENCE))]}]


def _plain(text: str) -> dict[str, str]:
    return {"text": breakable(text), "kind": "plain"}


def _spans(text: str) -> list[dict[str, str]]:
    """The text piece by piece; what stands in backticks is something to type."""
    pieces = re.split("`([^`]+)`", text)
    code = (
        {"text": piece, "kind": "code"} if n % 2 else _plain(piece)
        for n, piece in enumerate(pieces)
    )
    return [piece for piece in code if piece["text"]]


def _pictures(drawings: Sequence[Drawing], legend: str) -> dict[str, Any]:
    pictures = [
        {"svg": drawing.svg, "alt": repr(drawing), "width": _on_page(*drawing.size_points)}
        for drawing in drawings
    ]
    told = breakable(shown(legend, longest=LONGEST_SENTENCE))
    sheet = any(drawing.size_points[1] > HIGHEST_PICTURE for drawing in drawings)
    return {"kind": "pictures", "pictures": pictures, "legend": told, "sheet": sheet}


def _on_page(width: float, height: float) -> float:
    """How wide a picture is printed: as it was drawn, or less so that it fits the page."""
    return width * min(1.0, UPRIGHT / width, HIGHEST_PICTURE / height)


def _table(answer: Answer, told: Set[str]) -> dict[str, Any]:
    head, *rows = answer.texts()
    fit = fitted(head, rows)
    numbers = number_columns(rows)
    about = answer.referred(told)
    referring = [f"Cautions of this report: {about}."] if about else []
    return {
        "kind": "table",
        "title": breakable(shown(answer.title)),
        "head": [breakable(text) for text in head],
        "rows": [[breakable(text) for text in row] for row in rows],
        "notes": [_spans(note) for note in (*answer.told_notes(told), *referring)],
        "numbers": [n in numbers for n in range(len(head))],
        "widths": fit.widths,
        "size": fit.size,
        "wide": fit.wide,
    }
