"""A notebook's parameters: the plain assignments of one cell, set by name from outside."""

import ast
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any


def parameters_of(source: str) -> dict[str, Any]:
    """The parameters that a cell states, by name, with the values that it gives them.

    >>> parameters_of('from wornby import *\\n\\nfolder = "demo"\\nage_years = 14.0')
    {'folder': 'demo', 'age_years': 14.0}
    """
    return {name: ast.literal_eval(value) for name, value in _assignments(source).items()}


def with_parameters(source: str, given: Mapping[str, Any]) -> str:
    """The cell with these parameters set; whatever else it says stays as it is.

    ValueError: a parameter that the cell does not state, or of another kind than it states.

    >>> with_parameters("age_years = 14.0\\nfolder = 'demo'", {"age_years": 9})
    "age_years = 9.0\\nfolder = 'demo'"
    """
    stated = parameters_of(source)
    lines = source.splitlines()
    places = _assignments(source)
    for name in sorted(given, key=lambda n: -places[n].lineno if n in places else 0):
        if name not in stated:
            raise ValueError(f"no parameter {name!r}; there are {', '.join(stated)}")
        node, value = places[name], _of_kind(name, given[name], stated[name])
        last = node.end_lineno or node.lineno
        lines[node.lineno - 1 : last] = [f"{name} = {value!r}"]
    return "\n".join(lines)


def typed_parameters(pairs: Sequence[str]) -> dict[str, Any]:
    """NAME=VALUE pairs as typed; a value is written as in TOML, and any other text is text.

    >>> typed_parameters(["age_years=14", "renewed={'water pump' = 3}", "component=water pump"])
    {'age_years': 14, 'renewed': {'water pump': 3}, 'component': 'water pump'}
    """
    return dict(_typed(pair) for pair in pairs)


def _typed(pair: str) -> tuple[str, Any]:
    name, equals, text = pair.partition("=")
    if not equals or not name.strip().isidentifier():
        raise ValueError(f"--set {pair!r}: wanted NAME=VALUE, such as age_years=14")
    try:
        value = tomllib.loads(f"value = {text}")["value"]
    except tomllib.TOMLDecodeError:
        value = text.strip()
    return name.strip(), value


def _assignments(source: str) -> dict[str, ast.expr]:
    """The value given to each name, in order."""
    return {
        statement.targets[0].id: statement.value
        for statement in ast.parse(source).body
        if isinstance(statement, ast.Assign) and isinstance(statement.targets[0], ast.Name)
    }


def _of_kind(name: str, value: Any, stated: Any) -> Any:
    """The value as the notebook wants it: a whole number where it states a number, say."""
    if stated is None or value is None:
        return value
    if isinstance(stated, float) and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    if isinstance(stated, list) and isinstance(value, str):
        return [value]
    if type(value) is not type(stated):
        raise ValueError(
            f"parameter {name} = {value!r}: wanted {WANTED.get(type(stated), 'another kind')}, "
            f"such as {stated!r}"
        )
    return value


WANTED = {float: "a number", int: "a whole number", str: "a text", dict: "a table", list: "a list"}
