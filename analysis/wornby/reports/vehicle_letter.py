"""One vehicle's sheet in sentences, for whoever keeps it, buys it or sells it."""

from collections.abc import Sequence
from typing import Any

from wornby.decisions.stated_costs import money_of
from wornby.reports.amounts import between, in_cases, money, percent, with_tax
from wornby.reports.answer import ALL, Answers
from wornby.reports.known_parts import source_sentence
from wornby.reports.sentences import MOST_NAMED, SAFETY_CAUTION, Sentences
from wornby.reports.vehicle import gathered
from wornby.reports.workshop import Workshop


def vehicle_findings(workshop: Workshop, sheet: Answers) -> Sentences:
    """What matters of the sheet, what cannot wait first."""
    cost, work, look, part = (answer.frame.to_dicts() for answer in sheet.answers)
    parts = [row for row in part if row["part"] != ALL]
    return Sentences(
        (
            " ".join(sheet.answers[0].notes[:2]),
            *_must_go(work),
            *_bill(work, workshop),
            _pays_now(work, workshop.catalogue.currency),
            _money(cost, workshop),
            *_likeliest(parts),
            *_look_first(look),
            *_little_known(parts),
            source_sentence(workshop.catalogue),
        )
    )


def _must_go(work: Sequence[dict[str, Any]]) -> list[str]:
    named = [name for row in work for name in row["must"]]
    return [f"Renew {_listed(named)} before the vehicle is used. {SAFETY_CAUTION}"] if named else []


def _bill(work: Sequence[dict[str, Any]], workshop: Workshop) -> list[str]:
    """What the advised work costs today, with tax first."""
    bill = sum(row.get("paid_now_net") or 0.0 for row in work)
    unpriced = [n for row in work if row.get("paid_now_net") is None for n in row["must"]]
    without = f", without {_listed(unpriced)}, whose price is not known" if unpriced else ""
    catalogue = workshop.catalogue
    paid = with_tax(bill, money_of(catalogue).tax_rate, catalogue.currency)
    return [f"Today's bill for the advised work is {paid}{without}."] if bill else []


def _money(cost: Sequence[dict[str, Any]], workshop: Workshop) -> str:
    """What it costs left alone, and what the advised work takes off that."""
    left, advised = cost
    currency, share = workshop.catalogue.currency, percent(workshop.confidence)
    told = (
        f"Left until they fail, its parts cost {money(left['mean_net'], currency)} on average "
        f"before tax; {share} of such vehicles cost between {money(left['lower_net'], currency)} "
        f"and {money(left['upper_net'], currency)}: what a buyer may weigh against the price."
    )
    saved = left["mean_net"] - advised["mean_net"]
    if saved < 1:
        return told
    return (
        f"{told} With the advised work done now it is {money(saved, currency)} less on average, "
        "today's bill counted in, all before tax."
    )


def _pays_now(work: Sequence[dict[str, Any]], currency: str) -> str:
    paying = [row for row in work if row["renew_now"] and not row["must"]]
    if not paying:
        return (
            "Nothing else pays to be renewed before it fails; the order of work says what to "
            "renew once an access is open anyway."
        )
    told = [
        f"{row['access']}: {_listed(gathered(row['renew_now']))} (saves "
        f"{money(row['saving_net'], currency)} before tax, right in "
        f"{in_cases(row['probability_right'])})"
        for row in paying
    ]
    return f"Work that pays now: {'; '.join(told)}."


def _likeliest(parts: Sequence[dict[str, Any]]) -> list[str]:
    first = sorted(parts, key=lambda row: -row["chance"])[:MOST_NAMED]
    told = [
        f"{row['part']} {percent(row['chance'])} "
        f"({between(row['chance_lower'], row['chance_upper'], 'chance')})"
        for row in first
    ]
    return [f"Likeliest to fail in that time: {'; '.join(told)}."] if told else []


def _look_first(look: Sequence[dict[str, Any]]) -> list[str]:
    """Where to look besides the advised work, and at which safety parts if that is declined."""
    rows = [row for row in look if row["part"] is not None]
    others = [_looked_at(row) for row in rows if not row["renewed_in_work"]][:MOST_NAMED]
    told = [f"Look first at {'; '.join(others)}."] if others else []
    unsafe = [_looked_at(row) for row in rows if row["renewed_in_work"] and row["safety"]]
    if unsafe:
        told.append(
            f"If the advised work is declined, look before all else at {'; '.join(unsafe)}."
        )
    return told


def _looked_at(row: dict[str, Any]) -> str:
    """A part with what to look for, from where, and what to mind where the engine is hot."""
    engine = f", engine {row['engine']}" if row["engine"] else ""
    way = f"{row['way']}{engine}: " if row["way"] else ""
    mind = f"; {row['mind']}" if row["engine"] == "hot" and row["mind"] else ""
    return f"{row['part']} ({way}{row['look_for']}{mind})"


def _little_known(parts: Sequence[dict[str, Any]]) -> list[str]:
    few = [row["part"] for row in parts if row["few"]]
    return [f"Rests on few records, so doubt it: {_listed(few)}."] if few else []


def _listed(names: Sequence[str]) -> str:
    """Names in a row, the last after "and".

    >>> _listed(["belt", "pump", "seal"])
    'belt, pump and seal'
    """
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last
