"""Tables kept from one run to the next, so that only files that changed are read again.

They lie in `.wornby_cache` in the user's own folder, beside the exports that they were made of
and as private as these: registrations and job text stand in them as in the exports. Only their
owner may read them, and backups and version control pass them by. Deleting them costs the time to
read the files again, and nothing else.
"""

import hashlib
import io
import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path

import polars as pl

KEPT_IN = ".wornby_cache"
LEAST_BYTES = 50_000
"""A smaller file is read sooner than a kept table is found."""
DIGEST = 32
OWNER_ALONE, OWNERS_FOLDER = 0o600, 0o700
TAG = "Signature: 8a477f597d28d172789f06886806bc55\n# A cache of wornby's: delete it at will.\n"
"""What marks a cache by the Cache Directory Tagging Specification (B. Ford, 2004)."""


def kept_table(
    folder: Path, path: Path, meaning: Sequence[str], make: Callable[[], pl.DataFrame]
) -> pl.DataFrame:
    """What `make` makes of a file, or what it made when file, `meaning` and program were the same.

    `meaning` is all besides the file that the table hangs on, and its first item the place that
    it takes: a new table there replaces the old one. What is kept is trusted only if it is whole.
    """
    if path.stat().st_size < LEAST_BYTES:
        return make()
    place = (
        folder / KEPT_IN / f"{_named(meaning[0], path.as_posix())}.{_key(path, meaning)}.parquet"
    )
    kept = _whole(place)
    if kept is not None:
        return kept
    table = make()
    with suppress(OSError):
        _keep(place, table)
    return table


def forget_others(folder: Path, place: str, paths: Sequence[Path]) -> None:
    """Delete the tables kept in a place that come from other files than these."""
    here = {_named(place, path.as_posix()) for path in paths}
    with suppress(OSError):
        for old in (folder / KEPT_IN).glob(f"{_short(place)}.*"):
            if old.name.rsplit(".", 2)[0] not in here:
                old.unlink()


def _named(place: str, file: str) -> str:
    return f"{_short(place)}.{_short(file)}"


def _short(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def _key(path: Path, meaning: Sequence[str]) -> str:
    """What a table hangs on: the file's content, its meaning, and the program that reads it."""
    with path.open("rb") as file:
        content = hashlib.file_digest(file, "sha256").hexdigest()
    parts = [content, *meaning, _program()]
    return hashlib.sha256("\x00".join(parts).encode()).hexdigest()[:32]


@cache
def _program() -> str:
    """The program that reads files, by its own text: another one trusts nothing that is kept."""
    here = Path(__file__).parent
    text = b"".join(module.read_bytes() for module in sorted(here.glob("*.py")))
    return hashlib.sha256(text + pl.__version__.encode()).hexdigest()


def _whole(place: Path) -> pl.DataFrame | None:
    """The table kept in a place; None where there is none, or not all of it."""
    try:
        raw = place.read_bytes()
    except OSError:
        return None
    digest, body = raw[:DIGEST], raw[DIGEST:]
    if hashlib.sha256(body).digest() != digest:
        return None
    return pl.read_parquet(io.BytesIO(body))


def _keep(place: Path, table: pl.DataFrame) -> None:
    """Write a table so that it is there whole or not at all, and drop the one it replaces."""
    _prepare(place.parent)
    out = io.BytesIO()
    table.write_parquet(out, compression="zstd")
    body = out.getvalue()
    unfinished = place.with_suffix(f".{os.getpid()}")
    with open(
        os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, OWNER_ALONE), "wb"
    ) as file:
        file.write(hashlib.sha256(body).digest() + body)
    os.replace(unfinished, place)
    for old in place.parent.glob(f"{place.name.rsplit('.', 2)[0]}.*"):
        if old != place:
            old.unlink()


def _prepare(cache_folder: Path) -> None:
    if cache_folder.is_dir():
        return
    cache_folder.mkdir(mode=OWNERS_FOLDER)
    (cache_folder / ".gitignore").write_text("*\n")
    (cache_folder / "CACHEDIR.TAG").write_text(TAG)
