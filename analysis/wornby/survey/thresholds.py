"""What a club may publish of its answers, and in what name, as its disclosure.toml has it."""

from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from wornby.errors import RecordError
from wornby.records.layout import read_toml

NAME = "disclosure.toml"
TABLE, CLUB_TABLE = "disclosure", "club"
LEAST_CELL = 3
"""With fewer, one of two in a cell subtracts the own answer and has the other's."""


@dataclass(frozen=True, slots=True)
class Thresholds:
    """How many answers a finding, a cell and a step of a curve need before they are shown.

    `minimum_base`: answers under a finding. `minimum_cell`: answers in a cell that is shown, and
    failures in one step of a curve; a cell with none is shown, since it holds nobody.
    `protection`: by how much the least and the most that a withheld cell could hold must differ,
    reckoned from everything that is shown. Five and ten are usual floors of official tables and
    of surveys (common practice, no source).
    """

    minimum_base: int = 10
    minimum_cell: int = 5
    protection: int = 4

    def __post_init__(self) -> None:
        """Refuse limits that protect nobody, or that contradict each other."""
        for name, least in self._least().items():
            value = getattr(self, name)
            if value < least:
                raise ValueError(f"{name} = {value}: wanted {least} or more{WHY[name]}")

    def _least(self) -> dict[str, int]:
        return {"minimum_cell": LEAST_CELL, "minimum_base": self.minimum_cell, "protection": 1}


WHY = {
    "minimum_cell": ", or one of two could tell the other's answer",
    "minimum_base": ", no less than minimum_cell",
    "protection": ", or what is withheld could be reckoned",
}


def read_thresholds(folder: Path) -> Thresholds:
    """The limits of the folder's disclosure.toml; those that it leaves out, or all, by default.

    RecordError names the file, the key and the value that cannot be.
    """
    path = folder / NAME
    if not path.is_file():
        return Thresholds()
    given = _tables(path).get(TABLE, {})
    known = [f.name for f in fields(Thresholds)]
    for key, value in given.items():
        _check(key, value, known)
    try:
        return Thresholds(**given)
    except ValueError as error:
        raise RecordError(f"{NAME}: [{TABLE}] {error}") from None


def read_club_name(folder: Path) -> str:
    """What the club is called, as [club] in the folder's disclosure.toml says; else nothing."""
    path = folder / NAME
    given = _tables(path).get(CLUB_TABLE) if path.is_file() else None
    if given is None:
        return ""
    name = given.get("name")
    if set(given) != {"name"} or not isinstance(name, str) or not name.strip():
        found = ", ".join(f"{key} = {value!r}" for key, value in given.items()) or "nothing"
        raise RecordError(f'{NAME}: [{CLUB_TABLE}]: wanted name = "...", found {found}')
    return name.strip()


def _tables(path: Path) -> dict[str, dict[str, Any]]:
    content = read_toml(path)
    tables = content and all(isinstance(table, dict) for table in content.values())
    if not tables or set(content) - {TABLE, CLUB_TABLE}:
        found = ", ".join(content) or "nothing"
        raise RecordError(f"{NAME}: wanted [{TABLE}], [{CLUB_TABLE}] or both, found {found}")
    return content


def _check(key: str, value: Any, known: list[str]) -> None:
    if key not in known:
        raise RecordError(f"{NAME}: [{TABLE}] {key}: not known; it may say {', '.join(known)}")
    if not isinstance(value, int) or isinstance(value, bool):
        raise RecordError(f"{NAME}: [{TABLE}] {key} = {value!r}: wanted a whole number")
