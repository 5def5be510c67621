"""Read workshop.toml into a catalogue, or say which entry is wrong and how to mend it."""

from collections.abc import Mapping
from dataclasses import MISSING, fields
from pathlib import Path
from typing import Any, TypeVar

from wornby.errors import RecordError
from wornby.records.catalogue import (
    GRADES,
    SCALES,
    Access,
    CandidateJob,
    Catalogue,
    Component,
    FollowOn,
    Money,
    PriceRules,
    Words,
)
from wornby.records.layout import read_toml

Entry = TypeVar("Entry", Access, CandidateJob, Component, FollowOn, Money, PriceRules, Words)
USUAL_BOOK_MONTHS = 18
"""A vehicle that has not come for longer is somebody else's; workshop.toml may say otherwise."""
LEAST_TOLERANCE_MI = 500.0
"""Two readings that disagree by less are a slip of date, not of the odometer."""


def read_catalogue(path: Path) -> Catalogue:
    """Read workshop.toml; a missing or unknown entry is named with the table it stands in."""
    content = read_toml(path)
    source = path.name
    workshop = _need(source, content, "workshop")
    catalogue = Catalogue(
        name=_need(f"{source}: [workshop]", workshop, "name"),
        note=workshop.get("note", ""),
        currency=_need(f"{source}: [workshop]", workshop, "currency"),
        distance_unit=_need(f"{source}: [workshop]", workshop, "distance_unit"),
        records_until=_need(f"{source}: [workshop]", workshop, "records_until"),
        pseudonym_key=_need(f"{source}: [workshop]", workshop, "pseudonym_key"),
        odometer_tolerance_mi=float(workshop.get("odometer_tolerance_mi", LEAST_TOLERANCE_MI)),
        observation_rule=workshop.get("observation_rule", "workshop"),
        book_months=workshop.get("book_months", USUAL_BOOK_MONTHS),
        money=_entry(Money, f"{source}: [money]", content["money"]) if "money" in content else None,
        price_rules=_entry(PriceRules, f"{source}: [fixed_price]", content["fixed_price"])
        if "fixed_price" in content
        else None,
        words=_entry(Words, f"{source}: [words]", _need(source, content, "words")),
        access_groups=_named(Access, source, content.get("access_group", [])),
        follow_on=_named(FollowOn, source, content.get("follow_on", [])),
        components=_named(Component, source, _need(source, content, "component")),
        fixed_price_jobs=tuple(
            _named(CandidateJob, source, content.get("fixed_price_job", [])).values()
        ),
    )
    _check_names(source, catalogue)
    return catalogue


def _need(where: str, table: Mapping[str, Any], key: str) -> Any:
    if key not in table:
        raise RecordError(f"{where}: no {key!r}; add it")
    return table[key]


def _entry(kind: type[Entry], where: str, table: Mapping[str, Any]) -> Entry:
    known = {f.name: f for f in fields(kind)}
    if unknown := sorted(set(table) - set(known)):
        raise RecordError(f"{where}: unknown key {unknown[0]!r}; known are {', '.join(known)}")
    always = [n for n, f in known.items() if f.default is MISSING and f.default_factory is MISSING]
    for name in always:
        _need(where, table, name)
    return kind(**{key: _frozen(value) for key, value in table.items()})


def _frozen(value: Any) -> Any:
    if isinstance(value, list):
        return tuple(value)
    if isinstance(value, dict):
        return {key: _frozen(inner) for key, inner in value.items()}
    return value


def _named(kind: type[Entry], source: str, entries: list[dict[str, Any]]) -> dict[str, Entry]:
    made: dict[str, Entry] = {}
    for number, entry in enumerate(entries, start=1):
        where = f"{source}: {kind.__name__} number {number} ({entry.get('name', 'no name')})"
        name = _need(where, entry, "name")
        if name in made:
            raise RecordError(f"{where}: the name stands twice; give each its own")
        made[name] = _entry(kind, where, entry)
    return made


def _check_names(source: str, catalogue: Catalogue) -> None:
    for component in catalogue.components.values():
        where = f"{source}: component {component.name!r}"
        if component.scale not in SCALES:
            raise RecordError(f"{where}: scale = {component.scale!r}; use {' or '.join(SCALES)}")
        if component.access_group is not None:
            _known(where, component.access_group, catalogue.access_groups, "access group")
        for name in component.follow_on:
            _known(where, name, catalogue.follow_on, "follow-on work")
        for name in component.part_price_net:
            _known(where, name, dict.fromkeys(GRADES), "part grade")
    for group in catalogue.access_groups.values():
        for name in group.reveals:
            _known(
                f"{source}: access group {group.name!r}", name, catalogue.components, "component"
            )
        for name in group.follow_on:
            _known(
                f"{source}: access group {group.name!r}",
                name,
                catalogue.follow_on,
                "follow-on work",
            )
    for job in catalogue.fixed_price_jobs:
        for name in job.renews:
            _known(
                f"{source}: fixed-price job {job.name!r}", name, catalogue.components, "component"
            )


def _known(where: str, name: str, known: Mapping[str, Any], what: str) -> None:
    if name not in known:
        raise RecordError(f"{where}: no {what} {name!r}; the file has {', '.join(known)}")
