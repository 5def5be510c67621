"""Answers on endings: how many parts fail, are found degraded, or are renewed before they do."""

from typing import Any

import polars as pl

from wornby.curves.endings_by_age import ENDINGS, EndingShares, ending_shares
from wornby.curves.episode_lives import lives_of
from wornby.errors import EstimateError
from wornby.reports.amounts import amount, estimate_text
from wornby.reports.answer import Answer
from wornby.reports.life_answers import BOUNDS
from wornby.reports.medians_in_the_book import book_ages, book_ages_sentence, watched_from
from wornby.reports.workshop import NO_ORIGINALS, Workshop

WHY = (
    "One less Kaplan-Meier asks how many would fail if no part were ever renewed before it did. "
    "A part renewed early can no longer fail, so that number is higher than the share that does "
    "fail, the more so the more are renewed early; take it for how long the part lasts, and the "
    "share failed for how many failures come."
)


def ending_answer(workshop: Workshop) -> Answer:
    """Of each component's original parts, the share that has come to each end by an age."""
    originals = workshop.episodes.table.filter(pl.col("origin") == "original")
    if originals.is_empty():
        raise EstimateError(f"no original part was watched for any time. {NO_ORIGINALS}")
    ages = book_ages(workshop)
    rows, people, firsts = [], [], []
    for component in workshop.catalogue.components.values():
        unit = workshop.catalogue.component_units[component.name]
        own = originals.filter(pl.col("component") == component.name)
        lives = lives_of(own, unit=unit)
        if lives.is_empty():
            rows.append({"component": component.name, "lives": 0, "note": "none watched"})
            people.append({"component": component.name, "watched": "0", "note": "none watched"})
            continue
        found = ending_shares(
            lives,
            age=ages[unit],
            unit=unit,
            what=component.name,
            confidence=workshop.confidence,
        )
        n_lives, first = float(lives["count"].sum()), lives.select(pl.min("entry")).item()
        firsts.append((first, unit))
        told = _typed(component.name, n_lives, found, workshop.confidence)
        rows.append(told | {"first_watched": first})
        people.append(_people(component.name, n_lives, found))
    return Answer(
        "How parts end: failed, degraded, or renewed before that",
        pl.DataFrame(people, infer_schema_length=None),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            book_ages_sentence(ages),
            f"Shares of original parts by that age. {watched_from(firsts)} Aalen & Johansen, with "
            f"delayed entry; limits are {workshop.confidence:.0%} ones on the log-log scale and "
            "let the parts of one vehicle depend on one another, those of Kaplan-Meier "
            "(Greenwood) take every part by itself. Where none came to an end, “at most” is the "
            "one-sided limit that as many watched to that age allow.",
            "Parts in service, or lost from sight, have come to no end; the shares and those still "
            "in service make up the whole.",
            WHY,
        ),
    )


def _typed(component: str, lives: float, found: EndingShares, confidence: float) -> dict[str, Any]:
    told: dict[str, Any] = {"component": component, "lives": lives, "at_risk": found.at_risk}
    told |= {"age": found.age, "unit": found.unit, "begins_at": found.begins_at}
    for ending, name in ENDINGS.items():
        share = found.shares[name]
        column = ending.replace(" ", "_")
        told |= {f"{column}_share_{part}": getattr(share, part) for part in BOUNDS}
    told |= {f"failure_alone_share_{part}": getattr(found.alone, part) for part in BOUNDS}
    return told | {"confidence": confidence, "note": _note(found)}


def _people(component: str, lives: float, found: EndingShares) -> dict[str, str]:
    shares = {name: estimate_text(share) for name, share in found.shares.items()}
    return {
        "component": component,
        "watched": f"{lives:.0f}",
        "by the age of": f"{amount(found.age, found.unit)} {found.unit}",
        "still watched then": f"{found.at_risk:.0f}",
        **shares,
        "1 - Kaplan-Meier of failures": estimate_text(found.alone),
        "note": _note(found),
    }


def _note(found: EndingShares) -> str:
    if found.reason or not found.begins_at:
        return found.reason
    return f"of those that reached {found.begins_at:.1f} {found.unit}"
