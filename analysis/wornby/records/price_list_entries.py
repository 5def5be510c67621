"""The [[price_list]] tables of workshop.toml: in order of their days, the newest with today's."""

from typing import Any

from wornby.errors import RecordError
from wornby.records.catalogue import GRADES, Catalogue, PriceList
from wornby.records.typed_entries import check_known, entry


def price_lists_of(source: str, entries: Any) -> tuple[PriceList, ...]:
    """The lists as written, each with its day and its costs."""
    if not isinstance(entries, list):
        raise RecordError(f"{source}: price_list: wanted double brackets, as [[price_list]]")
    return tuple(
        entry(PriceList, f"{source}: price_list number {number}", table)
        for number, table in enumerate(entries, start=1)
    )


def check_price_lists(source: str, catalogue: Catalogue) -> None:
    """Name the first list that is out of order, or names what the catalogue does not have."""
    before = None
    for number, prices in enumerate(catalogue.price_lists, start=1):
        since = prices.in_force_from
        where = f"{source}: price_list number {number} (in_force_from = {since})"
        if before is not None and since <= before:
            raise RecordError(f"{where}: not after the list before it, {before}; put in order")
        if since > catalogue.records_until:
            raise RecordError(
                f"{where}: after records_until {catalogue.records_until}; leave out what was "
                "not in force by then"
            )
        if prices.labour_cost_per_hour == 0:
            raise RecordError(f"{where}: labour_cost_per_hour = 0: wanted above 0")
        for component, costs in prices.part_cost_net.items():
            check_known(where, component, catalogue.components, "component")
            for grade, cost in costs.items():
                check_known(f"{where}: {component}", grade, dict.fromkeys(GRADES), "part grade")
                if not cost:
                    raise RecordError(f"{where}: {component}: {grade} = 0: wanted above 0")
        before = since
    _check_newest(source, catalogue)


def _check_newest(source: str, catalogue: Catalogue) -> None:
    """The newest list that names a cost must have today's, or its end would be unknown."""
    newest: dict[tuple[str, str], float] = {}
    rates = []
    for prices in catalogue.price_lists:
        rates += [r for r in [prices.labour_cost_per_hour] if r is not None]
        for name, costs in prices.part_cost_net.items():
            newest |= {(name, grade): cost for grade, cost in costs.items()}
    for (name, grade), cost in newest.items():
        today = catalogue.components[name].part_cost_net.get(grade, cost)
        if cost != today:
            raise RecordError(
                f"{source}: price_list: {name!r}, {grade}: {cost:g} in the newest list, {today:g} "
                "with the component; add the list from which today's is in force"
            )
    if rates and catalogue.money and rates[-1] != catalogue.money.labour_cost_per_hour:
        raise RecordError(
            f"{source}: price_list: labour_cost_per_hour {rates[-1]:g} in the newest list, "
            f"{catalogue.money.labour_cost_per_hour:g} under [money]; add the list from which "
            "today's is in force"
        )
