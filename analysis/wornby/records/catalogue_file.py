"""Read workshop.toml into a catalogue, or say which entry is wrong and how to mend it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from wornby.errors import RecordError
from wornby.records.catalogue import (
    CAUTIONS,
    ENGINE_STATES,
    GRADES,
    SCALES,
    Access,
    CandidateJob,
    Catalogue,
    CompanionPart,
    Component,
    FollowOn,
    Look,
    Money,
    PriceRules,
    StockRules,
    Words,
)
from wornby.records.conventions import DATE_FORMATS, DATES_UNSAID, DISTANCES_UNSAID, PER_MILE
from wornby.records.layout import read_toml
from wornby.records.price_list_entries import check_price_lists, price_lists_of
from wornby.records.typed_entries import check_known, entry
from wornby.records.wording import EVERY_PLACE

Named = TypeVar("Named", Access, CandidateJob, CompanionPart, Component, FollowOn, Look)
STOCK = "stock"
TABLES = ("workshop", "money", "fixed_price", STOCK, "words", "access_group", "follow_on",
          "component", "companion_part", "fixed_price_job", "look", "price_list")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Heading:
    """The [workshop] table.

    A vehicle is in the book if it came within `book_months` of `records_until`; two odometer
    readings that disagree by less than `odometer_tolerance_mi` are a slip of date. Letters give
    distances in the unit `distances_in`, and days in the order of `date_format`.
    """

    name: str
    currency: str
    records_until: date
    pseudonym_key: str
    note: str = ""
    book_months: int = 18
    observation_rule: str = "workshop"
    odometer_tolerance_mi: float = 500.0
    distances_in: str = DISTANCES_UNSAID
    date_format: str = DATES_UNSAID


def read_catalogue(path: Path) -> Catalogue:
    """Read workshop.toml; a missing, unknown or wrong entry is named with where it stands."""
    content = read_toml(path)
    source = path.name
    if unknown := sorted(set(content) - set(TABLES)):
        raise RecordError(f"{source}: unknown table {unknown[0]!r}; known are {', '.join(TABLES)}")
    for name in ("workshop", "words", "component"):
        if not content.get(name):
            raise RecordError(f"{source}: no {name!r}; add it")
    heading = _heading(f"{source}: [workshop]", content["workshop"])
    catalogue = Catalogue(
        name=heading.name,
        note=heading.note,
        currency=heading.currency,
        records_until=heading.records_until,
        pseudonym_key=heading.pseudonym_key,
        odometer_tolerance_mi=heading.odometer_tolerance_mi,
        observation_rule=heading.observation_rule,
        book_months=heading.book_months,
        distances_in=heading.distances_in,
        date_format=heading.date_format,
        money=entry(Money, f"{source}: [money]", content["money"]) if "money" in content else None,
        price_rules=_price_rules(source, content.get("fixed_price")),
        stock=_stock(source, content.get(STOCK)),
        words=entry(Words, f"{source}: [words]", content["words"]),
        access_groups=_named(Access, source, content.get("access_group", [])),
        follow_on=_named(FollowOn, source, content.get("follow_on", [])),
        components=_named(Component, source, content["component"]),
        fixed_price_jobs=tuple(
            _named(CandidateJob, source, content.get("fixed_price_job", [])).values()
        ),
        looks=_named(Look, source, content.get("look", [])),
        companion_parts=_named(CompanionPart, source, content.get("companion_part", [])),
        price_lists=price_lists_of(source, content.get("price_list", [])),
    )
    _check_names(source, catalogue)
    check_price_lists(source, catalogue)
    return catalogue


def _heading(where: str, table: Any) -> Heading:
    """The [workshop] table, its choices among those there are."""
    heading = entry(Heading, where, table)
    if not heading.book_months:
        raise RecordError(f"{where}: book_months = 0: wanted 1 or more")
    for name, known in (("distances_in", PER_MILE), ("date_format", DATE_FORMATS)):
        if (told := getattr(heading, name)) not in known:
            raise RecordError(f"{where}: {name} = {told!r}; use {' or '.join(known)}")
    return heading


def _named(kind: type[Named], source: str, entries: Any) -> dict[str, Named]:
    if not isinstance(entries, list):
        raise RecordError(f"{source}: {kind.__name__}: wanted double brackets, as [[component]]")
    made: dict[str, Named] = {}
    for number, table in enumerate(entries, start=1):
        name = table.get("name", "no name") if isinstance(table, Mapping) else "no name"
        one = entry(kind, f"{source}: {kind.__name__} number {number} ({name})", table)
        if one.name in made:
            raise RecordError(f"{source}: the name {one.name!r} stands twice; give each its own")
        made[one.name] = one
    return made


def _price_rules(source: str, table: Any) -> PriceRules | None:
    """The [fixed_price] table, if there is one."""
    if table is None:
        return None
    rules = entry(PriceRules, f"{source}: [fixed_price]", table)
    if rules.cancelled_share >= 1:
        raise RecordError(f"{source}: [fixed_price]: cancelled_share = 1: wanted below 1")
    return rules


def _stock(source: str, table: Any) -> StockRules | None:
    """The [stock] table, if there is one."""
    if table is None:
        return None
    where = f"{source}: [{STOCK}]"
    rules = entry(StockRules, where, table)
    if not 0 < rules.service_level < 1:
        raise RecordError(
            f"{where}: service_level = {rules.service_level}: wanted above 0 and below 1"
        )
    for grade, days in rules.lead_time_days.items():
        check_known(where, grade, dict.fromkeys(GRADES), "part grade")
        if not days:
            raise RecordError(f"{where}: lead_time_days.{grade} = 0: wanted above 0")
    return rules


def _check_names(source: str, catalogue: Catalogue) -> None:
    for component in catalogue.components.values():
        _check_component(f"{source}: component {component.name!r}", component, catalogue)
    for group in catalogue.access_groups.values():
        where = f"{source}: access group {group.name!r}"
        for name in group.reveals:
            check_known(where, name, catalogue.components, "component")
        for name in group.follow_on:
            check_known(where, name, catalogue.follow_on, "follow-on work")
    _check_looks(source, catalogue)
    for job in catalogue.fixed_price_jobs:
        where = f"{source}: fixed-price job {job.name!r}"
        check_known(where, job.grade, dict.fromkeys(GRADES), "part grade")
        if not job.renews or not job.present_price_net:
            raise RecordError(f"{where}: renews nothing, or asks nothing; name parts and a price")
        for name in job.renews:
            check_known(where, name, catalogue.components, "component")
        for name in job.companion_parts:
            check_known(where, name, catalogue.companion_parts, "companion part")


def _check_looks(source: str, catalogue: Catalogue) -> None:
    places = [(c.name, place) for c in catalogue.components.values() for place in c.positions]
    points = dict.fromkeys([*catalogue.components, *(", ".join(place) for place in places)])
    for look in catalogue.looks.values():
        where = f"{source}: look {look.name!r}"
        if look.engine not in ENGINE_STATES:
            raise RecordError(
                f"{where}: engine = {look.engine!r}; use cold or hot, or leave it out"
            )
        for point, chance in look.sees.items():
            check_known(where, point, points, "component or place of one")
            if not 0 < chance <= 1:
                raise RecordError(
                    f"{where}: sees.{point} = {chance}: wanted above 0 and at most 1; "
                    "leave out what it cannot see"
                )
    if len(routine := [look.name for look in catalogue.looks.values() if look.at_service]) > 1:
        raise RecordError(f"{source}: at_service stands in {', '.join(routine)}; keep one")


def _check_component(where: str, component: Component, catalogue: Catalogue) -> None:
    if not component.words:
        raise RecordError(f"{where}: words = []: wanted the words that name it in job lines")
    if set(component.name) & set(",+"):
        raise RecordError(f"{where}: a name holds no comma and no plus sign")
    if component.scale not in SCALES:
        raise RecordError(f"{where}: scale = {component.scale!r}; use {' or '.join(SCALES)}")
    if set(component.cautions) - set(CAUTIONS):
        raise RecordError(f"{where}: caution = {component.caution!r}; use {', '.join(CAUTIONS)}")
    if component.shared_wear is not None and component.shared_wear >= 1:
        raise RecordError(
            f"{where}: shared_wear = {component.shared_wear}: wanted from 0 to below 1, as 0.4"
        )
    if component.access_group is not None:
        check_known(where, component.access_group, catalogue.access_groups, "access group")
    for name in component.follow_on:
        check_known(where, name, catalogue.follow_on, "follow-on work")
    for name in component.companion_parts:
        check_known(where, name, catalogue.companion_parts, "companion part")
    for name in (*component.part_price_net, *component.part_cost_net):
        check_known(where, name, dict.fromkeys(GRADES), "part grade")
    for place in component.positions:
        check_known(where, place, catalogue.words.positions, "position in [words.positions]")
        if place == EVERY_PLACE:
            raise RecordError(f"{where}: {EVERY_PLACE!r} stands for every position; name each")
