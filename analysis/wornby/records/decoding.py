"""From bytes to text, in whatever encoding a file was saved."""

import codecs
import re

from wornby.errors import RecordError

MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
"""Byte order marks of the Unicode Standard (section 23.8), the longer of two alike first."""
LOOKED_AT = 2_000
MOSTLY = 0.5
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
FALLBACK = "cp1252"
"""What older Windows programs of western Europe save as (common practice, no source)."""


def decoded(name: str, raw: bytes, stated: str | None) -> tuple[str, str]:
    """The text of a file, lines ended by newlines alone, and the encoding it was read with.

    A byte order mark goes before the layout's `stated` encoding. Where neither tells, text is
    UTF-8, or Windows-1252 if it cannot be. RecordError where the bytes are no such text.

    >>> decoded("a.csv", "caf\u00e9;1\\r\\n".encode("cp1252"), None)
    ('café;1\\n', 'cp1252')
    """
    encoding = _marked(raw) or stated or _unmarked_utf_16(raw)
    tried = [encoding] if encoding else ["utf-8", FALLBACK]
    for n, choice in enumerate(tried, start=1):
        try:
            return _plain_lines(raw.decode(choice)), choice
        except UnicodeError as error:
            if n == len(tried):
                raise RecordError(
                    f"{name}: cannot be read with encoding {choice!r}: {error}; write its own as "
                    "`encoding` in layout.toml, or save it as UTF-8"
                ) from None
    raise AssertionError("no encoding was tried")


def _marked(raw: bytes) -> str | None:
    return next((encoding for mark, encoding in MARKS if raw.startswith(mark)), None)


def _unmarked_utf_16(raw: bytes) -> str | None:
    """UTF-16 without its mark: every second byte of plain letters is nought."""
    head = raw[:LOOKED_AT]
    for start, encoding in ((1, "utf-16-le"), (0, "utf-16-be")):
        half = head[start::2]
        if half.count(0) > MOSTLY * len(head[0::2]) and not head[1 - start :: 2].count(0):
            return encoding
    return None


def _plain_lines(text: str) -> str:
    """Lines ended as on any system, once each; no control characters, no marks inside."""
    if "\r" in text:
        text = re.sub(r"\r+\n", "\n", text).replace("\r", "\n")
    return CONTROL.sub("", text).replace("\ufeff", "")
