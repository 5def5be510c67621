"""A notebook run cell by cell, and what its cells say, show and compute, in order.

The cells run in this process, one namespace for all, as a kernel would run them; a cell shows
the value of its last line. What fails is said in one line that names the question it stood under.
"""

import ast
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wornby.errors import EstimateError, HistoryError, RecordError
from wornby.progress import each
from wornby.reports.parameters import with_parameters
from wornby.reports.sentences import Sentences

PARAMETERS = "parameters"
JUPYTER_ONLY = "jupyter-only"
"""The tag of a cell whose controls need a live notebook: a report leaves it out."""
OURS = (EstimateError, HistoryError, RecordError, ValueError, OSError)
"""What is wrong with the input; any other error is named with its kind."""


@dataclass(frozen=True, slots=True)
class Prose:
    """A cell of words, in Markdown."""

    text: str


@dataclass(frozen=True, slots=True)
class Code:
    """A cell of code, as a reader gets to see it."""

    text: str


@dataclass(frozen=True, eq=False, slots=True)
class Shown:
    """What the cell before shows: an answer, sentences, a drawing."""

    value: Any


Piece = Prose | Code | Shown


def run_notebook(path: Path, parameters: Mapping[str, object]) -> list[Piece]:
    """Run every cell, the parameters changed to these; a folder is shown by its name alone."""
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    pieces: list[Piece] = []
    namespace: dict[str, Any] = {"__name__": path.stem}
    question = ""
    for cell in each(cells, f"{path.stem} report"):
        text, tags = "".join(cell["source"]), cell["metadata"].get("tags", [])
        if JUPYTER_ONLY in tags:
            continue
        if cell["cell_type"] == "markdown":
            pieces.append(Prose(text))
            question = _question(text) or question
            continue
        shown = text
        if PARAMETERS in tags:
            shown = with_parameters(text, {n: _by_name(v) for n, v in parameters.items()})
            text = with_parameters(text, {n: _as_text(v) for n, v in parameters.items()})
        pieces.append(Code(shown))
        value = _run(text, namespace, where=f"{path.stem} report, under {question!r}")
        if value is not None:
            pieces.append(Shown(value))
    return _without_empty_parts(pieces)


def _without_empty_parts(pieces: Sequence[Piece]) -> list[Piece]:
    """The pieces, without the lesser parts (###) of which all that they show was left out."""
    kept: list[Piece] = []
    part: list[Piece] = []
    for piece in (*pieces, Prose("")):
        if isinstance(piece, Prose):
            kept += [] if _is_empty(part) else part
            part = []
        part.append(piece)
    return kept


def _is_empty(part: Sequence[Piece]) -> bool:
    heading = part and isinstance(part[0], Prose) and part[0].text.startswith("###")
    values = [piece.value for piece in part if isinstance(piece, Shown)]
    return bool(heading and values and all(value == Sentences(()) for value in values))


def _run(source: str, namespace: dict[str, Any], *, where: str) -> object:
    """Run one cell; returns the value of its last line, if that is one."""
    body = ast.parse(source)
    last = body.body.pop() if body.body and isinstance(body.body[-1], ast.Expr) else None
    try:
        exec(compile(body, "<cell>", "exec"), namespace)
        if last is None:
            return None
        return eval(compile(ast.Expression(last.value), "<cell>", "eval"), namespace)  # type: ignore[attr-defined]  # an Expr, by the line above
    except OURS as error:
        raise RecordError(f"{where}: {_one_line(error)}") from error
    except Exception as error:
        raise RecordError(f"{where}: {type(error).__name__}: {_one_line(error)}") from error


def _one_line(error: Exception) -> str:
    return " ".join(str(error).split())


def _question(text: str) -> str:
    """The last heading in a cell of words."""
    headings = re.findall(r"(?m)^#+ +(.*)$", text)
    return headings[-1] if headings else ""


def _as_text(value: object) -> object:
    return str(value) if isinstance(value, Path) else value


def _by_name(value: object) -> object:
    """A folder by its name alone: a page says nothing of the machine that it was made on."""
    return value.name if isinstance(value, Path) else value
