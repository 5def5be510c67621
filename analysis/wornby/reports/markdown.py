"""The words of a notebook, as a page and as printed pages want them."""

import html
from typing import Any

import mistune

PRINTED = {"strong": "strong", "emphasis": "emphasis", "codespan": "code"}


class PageOfWords(mistune.HTMLRenderer):
    """HTML with a number at each part, and a list of the parts for the contents."""

    def __init__(self) -> None:
        super().__init__(escape=True)
        self.parts: list[str] = []

    def heading(self, text: str, level: int, **_: Any) -> str:
        """A heading; those of parts get a place that the contents lead to."""
        if level != 2:
            return f"<h{level}>{text}</h{level}>\n"
        self.parts.append(text)
        return f'<h2 id="part-{len(self.parts)}">{text}</h2>\n'


def as_html(text: str, renderer: PageOfWords) -> str:
    """One cell of words as HTML; markup of any other kind in it is shown, not obeyed."""
    return str(mistune.create_markdown(renderer=renderer)(text))


def as_blocks(text: str) -> list[dict[str, Any]]:
    """One cell of words as headings, paragraphs and lists of spans.

    >>> as_blocks("## Lives\\n\\nHow *long*.")[1]["spans"]
    [{'text': 'How ', 'kind': 'plain'}, {'text': 'long', 'kind': 'emphasis'}, {'text': '.', \
'kind': 'plain'}]
    """
    tokens = mistune.create_markdown(renderer="ast")(text)
    blocks = (_block(token) for token in tokens if isinstance(token, dict))
    return [block for block in blocks if block]


def title_of(text: str) -> str:
    """The first heading of a cell of words, or nothing."""
    for block in as_blocks(text):
        if block["kind"] == "heading":
            return "".join(span["text"] for span in block["spans"])
    return ""


def _block(token: dict[str, Any]) -> dict[str, Any] | None:
    kind = token["type"]
    if kind == "heading":
        return {"kind": kind, "level": token["attrs"]["level"], "spans": _spans(token)}
    if kind == "list":
        return {"kind": "list", "items": [_spans(item) for item in token["children"]]}
    if "children" in token:
        return {"kind": "paragraph", "spans": _spans(token)}
    return {"kind": "code", "text": token["raw"]} if token.get("raw") else None


def _spans(token: dict[str, Any], kind: str = "plain") -> list[dict[str, str]]:
    """The text in a token, piece by piece, each with how it is set."""
    if "children" not in token:
        own = PRINTED.get(token["type"], kind)
        text = html.unescape(token.get("raw", " "))
        return [{"text": text, "kind": own}]
    inner = PRINTED.get(token["type"], kind)
    return [span for child in token["children"] for span in _spans(child, inner)]
