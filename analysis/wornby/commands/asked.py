"""What all commands share: the folder opened, the answers shown."""

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from wornby.progress import work

if TYPE_CHECKING:
    from wornby.reports.answer import Answer
    from wornby.reports.workshop import Workshop

HORIZON_YEARS = 3.0


def show(asked: argparse.Namespace, answers: Sequence["Answer"]) -> None:
    """Print the answers as tables for people, or as JSON for programs."""
    if asked.json:
        print("[" + ",\n".join(answer.as_json() for answer in answers) + "]")
    else:
        print("\n\n".join(repr(answer) for answer in answers))


def show_written(asked: argparse.Namespace, paths: Sequence[Path]) -> None:
    """Say which files were written, one a line, or as JSON for programs."""
    if asked.json:
        rows = [{"path": str(path)} for path in paths]
        print(json.dumps([{"title": "Written", "rows": rows, "notes": []}], ensure_ascii=False))
    else:
        print("\n".join(f"wrote {path}" for path in paths))


def opened(asked: argparse.Namespace) -> "Workshop":
    """The folder's workshop, once the options that all commands share are seen to make sense."""
    from wornby.records.reading import read_records
    from wornby.reports.workshop import workshop_of

    if not 0 < asked.confidence < 1:
        raise ValueError(f"--confidence {asked.confidence}: wanted between 0 and 1")
    if asked.seed < 0:
        raise ValueError(f"--seed {asked.seed}: wanted 0 or more")
    with work("reading the records"):
        records = read_records(asked.folder)
    return workshop_of(records, confidence=asked.confidence, seed=asked.seed)


def years_renewed(given: Sequence[str]) -> dict[str, float]:
    """COMPONENT=YEARS pairs as typed."""
    told = {}
    for pair in given:
        name, _, years = pair.rpartition("=")
        try:
            told[name.strip()] = float(years)
        except ValueError:
            raise ValueError(f"--renewed {pair!r}: wanted COMPONENT=YEARS") from None
    return told
