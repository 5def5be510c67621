"""Where to look first on one vehicle, by which way, and with the engine cold or hot."""

import re
from typing import Any

import polars as pl

from wornby.decisions.vehicle_parts import DEGRADED, SOUND
from wornby.records.catalogue import Catalogue, Look
from wornby.reports.amounts import money, percent
from wornby.reports.answer import Answer
from wornby.reports.sentences import cautions_for
from wornby.reports.vehicle_curves import VehicleTold
from wornby.reports.workshop import Workshop

MOST_LOOKS = 8
GOOD_ENOUGH = 0.5
"""A way that sees half of the defects is good enough; they stand in order of effort."""
IN_WORK = "renewed in the work above; look only if that is declined"
NO_WAY = "no look is stated for it"
WITH_THE_ENGINE = re.compile(r"engine (cold|hot)[^:;]*: ")
"""How a clause of `look_for` begins that is true of a cold engine, or of a hot one, alone."""


def look_answer(workshop: Workshop, told: VehicleTold) -> Answer:
    """What to look at first: safety parts, then where a look can save most.

    What the advised work renews comes last, as many again, for whoever declines the work.
    """
    catalogue, currency = workshop.catalogue, workshop.catalogue.currency
    rows = [_row(catalogue, told, n) for n in range(len(told.components))]
    rows += [_unpriced(catalogue, told, name) for name in told.left_out]
    looked = {p.name for p in told.sheet.parts if p.condition in (SOUND, DEGRADED)}
    open_ = [row for row in rows if row["part"] not in looked]
    ordered = sorted(open_, key=lambda row: (not row["safety"], -row["could_save_net"]))
    first = [
        row
        for declined in (False, True)
        for row in [one for one in ordered if one["renewed_in_work"] == declined][:MOST_LOOKS]
    ]
    people = [
        {
            "look at": row["part"],
            "look for": (f"{IN_WORK}: " if row["renewed_in_work"] else "") + row["look_for"],
            "how": _how(row),
            "chance to fail": "not known" if row["chance"] is None else percent(row["chance"]),
            "a look can save, before tax": money(row["could_save_net"], currency),
        }
        for row in first
    ]
    return Answer(
        "Look first",
        pl.DataFrame(people or [{"look at": "nothing is left to look at"}]),
        pl.DataFrame(first or [{"part": None}], infer_schema_length=None),
        (
            "Safety parts first, then by chance to fail times what a failure costs beyond a "
            "planned repair times the chance to see it coming; what the work above renews last, in "
            "the same order, for whoever declines it. The way is the least effort that "
            f"sees {percent(GOOD_ENOUGH)} of defects, or else the best.",
            *cautions_for(list(catalogue.components.values())),
        ),
    )


def _row(catalogue: Catalogue, told: VehicleTold, n: int) -> dict[str, Any]:
    part, component = told.sheet.parts[n], told.components[n]
    look, sees = best_look(catalogue, component.name, part.name.partition(", ")[2])
    chance = float(told.sheet.chances[:, n].mean())
    return {
        "part": part.name,
        "safety": component.safety,
        "look_for": words_for(component.look_for, "" if look is None else look.engine),
        "way": None if look is None else look.name,
        "engine": None if look is None else look.engine,
        "mind": None if look is None else look.note,
        "sees": sees,
        "chance": chance,
        "could_save_net": chance * part.costs.failure_consequence_net * sees,
        "renewed_in_work": any(part.name in plan.renew_now for plan in told.sheet.plans),
    }


def _unpriced(catalogue: Catalogue, told: VehicleTold, name: str) -> dict[str, Any]:
    """A part without a curve is still looked at."""
    whole, _, place = name.partition(", ")
    component = catalogue.component(whole)
    look, sees = best_look(catalogue, whole, place)
    return {
        "part": name,
        "safety": component.safety,
        "look_for": words_for(component.look_for, "" if look is None else look.engine),
        "way": None if look is None else look.name,
        "engine": None if look is None else look.engine,
        "mind": None if look is None else look.note,
        "sees": sees,
        "chance": None,
        "could_save_net": 0.0,
        "renewed_in_work": name in told.must_go,
    }


def best_look(catalogue: Catalogue, component: str, place: str) -> tuple[Look | None, float]:
    """The first way that sees the part well enough, or the best, and how well it sees it."""
    seen = [(look, look.chance(component, place)) for look in catalogue.looks.values()]
    seeing = [(look, chance) for look, chance in seen if chance > 0]
    if not seeing:
        return None, 0.0
    good = [pair for pair in seeing if pair[1] >= GOOD_ENOUGH]
    return good[0] if good else max(seeing, key=lambda pair: pair[1])


def words_for(look_for: str, engine: str) -> str:
    """What to look for in a look with the engine "cold" or "hot"; all of it where nothing fits.

    >>> matrix = "engine cold: damp carpet; engine hot, cap shut: sweet smell, misted screen"
    >>> words_for(matrix, "hot"), words_for("oil at the joint", "hot")
    ('sweet smell, misted screen', 'oil at the joint')
    """
    clauses = [(clause, WITH_THE_ENGINE.match(clause)) for clause in look_for.split("; ")]
    fitting = [
        clause if began is None else clause[began.end() :]
        for clause, began in clauses
        if began is None or began[1] == engine
    ]
    return "; ".join(fitting) if engine and fitting else look_for


def _how(row: dict[str, Any]) -> str:
    if row["way"] is None:
        return NO_WAY
    engine = f", engine {row['engine']}" if row["engine"] else ""
    note = f"; {row['mind']}" if row["mind"] else ""
    return f"{row['way']}{engine}: sees {percent(row['sees'])}{note}"
