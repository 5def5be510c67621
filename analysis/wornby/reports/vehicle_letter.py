"""One vehicle's sheet in sentences, for whoever keeps it, buys it or sells it."""

from collections.abc import Sequence
from typing import Any

from wornby.reports.amounts import between, money, percent
from wornby.reports.answer import ALL, Answers
from wornby.reports.sentences import MOST_NAMED, SAFETY_CAUTION, Sentences
from wornby.reports.vehicle import gathered
from wornby.reports.workshop import Workshop


def vehicle_findings(workshop: Workshop, sheet: Answers) -> Sentences:
    """What matters of the sheet, what cannot wait first."""
    cost, work, look, part = (answer.frame.to_dicts() for answer in sheet.answers)
    parts = [row for row in part if row["part"] != ALL]
    return Sentences(
        (
            sheet.answers[0].notes[0],
            *_must_go(work),
            _money(cost, work, workshop),
            _pays_now(work, workshop.catalogue.currency),
            *_likeliest(parts),
            *_look_first(look),
            *_little_known(parts),
        )
    )


def _must_go(work: Sequence[dict[str, Any]]) -> list[str]:
    named = [name for row in work for name in row["must"]]
    return [f"Renew {_listed(named)} before the vehicle is used. {SAFETY_CAUTION}"] if named else []


def _money(
    cost: Sequence[dict[str, Any]], work: Sequence[dict[str, Any]], workshop: Workshop
) -> str:
    """What it costs left alone, and what the advised work takes off that."""
    left, advised = cost
    currency, share = workshop.catalogue.currency, percent(workshop.confidence)
    told = (
        f"Left until they fail, its parts cost {money(left['mean_net'], currency)} on average; "
        f"{share} of such vehicles cost between {money(left['lower_net'], currency)} and "
        f"{money(left['upper_net'], currency)}: what a buyer may weigh against the price, before "
        "tax."
    )
    saved = left["mean_net"] - advised["mean_net"]
    if saved < 1:
        return told
    bill = sum(row.get("paid_now_net") or 0.0 for row in work)
    return (
        f"{told} With the advised work done now, a bill of {money(bill, currency)} today, it is "
        f"{money(saved, currency)} less on average, that bill counted in."
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
        f"{money(row['saving_net'], currency)}, right in {percent(row['probability_right'])})"
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
    told = [
        f"{row['part']} ({row['look_for']})" for row in look[:MOST_NAMED] if row["part"] is not None
    ]
    return [f"Look first at {'; '.join(told)}."] if told else []


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
