"""A report as one HTML page that opens anywhere: its own style, no script, no network."""

import html
from collections.abc import Sequence, Set
from pathlib import Path

from wornby.reports.answer import INERT_IN_JUPYTER, Answer, Answers
from wornby.reports.markdown import PageOfWords, as_html, title_of
from wornby.reports.notebook_run import Code, Piece, Prose, Shown
from wornby.reports.sentences import Sentences
from wornby.reports.shown_text import LONGEST_SENTENCE, shown

STYLE = Path(__file__).with_name("page.css")


def html_page(
    pieces: Sequence[Piece], *, about: str, shows_code: bool, beside: Sequence[str]
) -> str:
    """The page, with a table of contents; `beside` are the files that belong to it."""
    words, told = PageOfWords(), cautions_told(pieces)
    body = "\n".join(_piece(piece, words, told, shows_code=shows_code) for piece in pieces)
    contents = "".join(
        f'<li><a href="#part-{n}">{text}</a></li>' for n, text in enumerate(words.parts, start=1)
    )
    title = report_title(pieces) or about
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{html.escape(title)}</title>"
        f"<style>{STYLE.read_text(encoding='utf-8')}</style></head><body>"
        f'<nav aria-label="contents"><p>{html.escape(about)}</p><ol>{contents}</ol></nav>'
        f"<main>{body}</main><footer><p>To print: {beside[0]}. The tables, to reckon with: "
        f"{beside[1]}. Both lie beside this page.</p></footer></body></html>\n"
    )


def report_title(pieces: Sequence[Piece]) -> str:
    """The first heading of a report."""
    titles = (title_of(piece.text) for piece in pieces if isinstance(piece, Prose))
    return next((title for title in titles if title), "")


def cautions_told(pieces: Sequence[Piece]) -> frozenset[str]:
    """What the cautions are about that a report tells once, for all its answers."""
    shown = [piece.value for piece in pieces if isinstance(piece, Shown)]
    each = [value.about() for value in shown if isinstance(value, Sentences)]
    return frozenset().union(*each)


def _piece(piece: Piece, words: PageOfWords, told: Set[str], *, shows_code: bool) -> str:
    match piece:
        case Prose(text):
            return as_html(text, words)
        case Code(text):
            return _code(text) if shows_code else ""
        case Shown(Answer() | Answers() as answer):
            return answer.as_html(told)
        case Shown(value) if hasattr(value, "_repr_html_"):
            return str(value._repr_html_())
        case Shown(value):
            text = html.escape(shown(repr(value), longest=LONGEST_SENTENCE))
            return f'<p class="{INERT_IN_JUPYTER}">{text}</p>'


def _code(text: str) -> str:
    return f'<pre tabindex="0" role="group" aria-label="code">{html.escape(text)}</pre>'
