"""What a survey's sheet holds of one respondent, and the search for it in whatever is published."""

import base64
import html
import io
import re
import zlib
from pathlib import Path
from zipfile import ZipFile

import polars as pl

FREE_TEXT_WORDS = 3
"""A cell with so many words, or with a name, is somebody's own text, not a choice of the form."""
OWN_ODOMETER = 1_000
"""An odometer that is a multiple of it is many members' and tells of none."""


def personal(sheet: pl.DataFrame, *, respondent: str, odometer: str | None = None) -> set[str]:
    """What may appear nowhere: who answered, whole rows, own odometers and free text.

    Numbers by which a sheet merely counts its rows name nobody, and are left to whole rows.
    """
    who = {str(name) for name in sheet[respondent].drop_nulls() if re.search(r"\D", str(name))}
    rows = {",".join("" if v is None else str(v) for v in row) for row in sheet.rows()}
    cells = {str(v) for c in sheet.columns for v in sheet[c].drop_nulls().unique().to_list()}
    free = {text for text in cells if len(text.split()) >= FREE_TEXT_WORDS and len(text) >= 15}
    own = set()
    if odometer is not None:
        digits = sheet[odometer].cast(pl.String).str.extract(r"^([\d,]+)").str.replace_all(",", "")
        miles = [int(value) for value in digits.drop_nulls() if value]
        exact = [value for value in miles if value % OWN_ODOMETER]
        own = {text for value in exact for text in (str(value), f"{value:,}")}
    return who | rows | free | own


def layers(content: bytes) -> list[str]:
    """A file's text, and that of all it embeds: entities, data URIs, packed streams and files."""
    if content[:2] == b"PK":
        with ZipFile(io.BytesIO(content)) as packed_files:
            return [t for name in packed_files.namelist() for t in layers(packed_files.read(name))]
    text = content.decode("utf-8", errors="replace")
    unescaped = re.sub(r"\\u([0-9a-fA-F]{4})", lambda code: chr(int(code[1], 16)), text)
    found = [text, html.unescape(text), unescaped]
    for packed in re.findall(r"base64,([A-Za-z0-9+/=\\n]{40,})", text):
        clean = re.sub(r"[^A-Za-z0-9+/]", "", packed.replace("\\n", ""))
        raw = base64.b64decode(clean + "=" * (-len(clean) % 4))
        found += [raw.decode("utf-8", errors="replace"), *_streams(raw)]
    return [*found, *(_streams(content) if content[:4] in (b"%PDF", b"\x89PNG") else [])]


def _streams(raw: bytes) -> list[str]:
    """What a PDF's streams, or a picture's own texts, hold once unpacked."""
    found = []
    for begin in re.finditer(
        rb"stream\r?\n|zTXt[^\0]*\0\0|iTXt[^\0]*\0\x01\0[^\0]*\0[^\0]*\0", raw
    ):
        try:
            unpacked = zlib.decompressobj().decompress(raw[begin.end() :])
        except zlib.error:
            continue
        found.append(unpacked.decode("utf-8", errors="replace"))
    return found


def given_away(content: bytes, secrets: set[str]) -> set[str]:
    """The secrets that a file holds as words of their own, wherever in it."""
    texts = layers(content)
    present = {secret for secret in secrets if any(secret in text for text in texts)}
    return {
        secret
        for secret in present
        if any(re.search(rf"(?<![\w,.]){re.escape(secret)}(?![\w]|,\d)", text) for text in texts)
    }


def assert_nothing_personal(files: list[Path], secrets: set[str]) -> None:
    """Hold each file against what no published thing may hold."""
    assert secrets, "nothing to look for"
    for path in files:
        found = given_away(path.read_bytes(), secrets)
        assert not found, f"{path.name} holds {sorted(found)[:3]}"
