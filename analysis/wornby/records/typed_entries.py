"""A table of a TOML file into one of our dataclasses: every value of the right type and size."""

import types
import typing
from collections.abc import Mapping
from dataclasses import MISSING, Field, fields
from datetime import date
from typing import Any, TypeVar

from wornby.errors import RecordError

Entry = TypeVar("Entry")
SHARES = ("tax_rate", "target_margin", "job_loss_risk", "year_loss_risk", "most_loading_share",
          "other_version_weight", "cancelled_share")  # fmt: skip
"""Numbers from 0 to 1: 20 % is 0.20."""
PLAIN = {str: "a text", float: "a number", int: "a whole number", bool: "true or false"}


def entry(kind: type[Entry], where: str, table: Any) -> Entry:
    """The table as a dataclass of this kind; what is missing, unknown or wrong is named."""
    if not isinstance(table, Mapping):
        raise RecordError(f"{where}: found {table!r}, wanted a table of keys and values")
    known: dict[str, Field[Any]] = {f.name: f for f in fields(kind)}  # type: ignore[arg-type]  # always a dataclass
    if unknown := sorted(set(table) - set(known)):
        raise RecordError(f"{where}: unknown key {unknown[0]!r}; known are {', '.join(known)}")
    for name, f in known.items():
        if name not in table and f.default is MISSING and f.default_factory is MISSING:
            raise RecordError(f"{where}: no {name!r}; add it")
    hints = typing.get_type_hints(kind)
    return kind(**{k: value_of(hints[k], v, f"{where}: {k}") for k, v in table.items()})


def value_of(hint: Any, value: Any, where: str) -> Any:
    """One value as its annotation wants it, lists as tuples."""
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin is types.UnionType:
        return value_of(arguments[0], value, where)
    if origin is tuple:
        if not isinstance(value, list):
            raise RecordError(f"{where} = {value!r}: wanted a list in square brackets")
        return tuple(value_of(arguments[0], item, where) for item in value)
    if origin is not None:
        if not isinstance(value, Mapping):
            raise RecordError(f"{where} = {value!r}: wanted names and values in braces")
        return {k: value_of(arguments[1], v, f"{where}.{k}") for k, v in value.items()}
    return _plain(hint, value, where)


def _plain(hint: Any, value: Any, where: str) -> Any:
    if hint is date:
        if type(value) is not date:
            raise RecordError(f"{where} = {value!r}: wanted a date without quotes, as 2024-12-31")
        return value
    right = isinstance(value, hint) or (hint is float and isinstance(value, int))
    if not right or (isinstance(value, bool) and hint is not bool):
        raise RecordError(f"{where} = {value!r}: wanted {PLAIN[hint]}")
    if hint is str and not value.strip() and not where.endswith(("note", "caution", "look_for")):
        raise RecordError(f"{where} is empty: wanted a text")
    if hint in (int, float):
        _in_range(value, where)
    return value


def _in_range(value: float, where: str) -> None:
    name = where.rsplit(" ", 1)[-1]
    if name in SHARES and not 0 <= value <= 1:
        raise RecordError(f"{where} = {value}: wanted a share from 0 to 1, as 0.20 for 20 %")
    if not 0 <= value < float("inf"):
        raise RecordError(f"{where} = {value}: wanted a number from 0 up")


def check_known(where: str, name: str, known: Mapping[str, Any], what: str) -> None:
    """Refuse a name that stands nowhere else."""
    if name not in known:
        raise RecordError(f"{where}: no {what} {name!r}; there are {', '.join(known) or 'none'}")
