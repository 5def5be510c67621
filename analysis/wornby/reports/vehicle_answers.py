"""The sheet of one vehicle, for whoever owns it or thinks of buying it."""

from typing import Any

import numpy as np
import polars as pl

from wornby.decisions.stated_costs import money_of
from wornby.decisions.vehicle_parts import DEGRADED
from wornby.decisions.vehicle_plans import GroupPlan
from wornby.records.catalogue import Component
from wornby.reports.amounts import between, money, percent, with_tax
from wornby.reports.answer import ALL, Answer, Answers
from wornby.reports.known_parts import known_sentences, source_sentence
from wornby.reports.look_first import look_answer
from wornby.reports.sentences import DISCLAIMER, cautions_for
from wornby.reports.vehicle import Vehicle, gathered
from wornby.reports.vehicle_curves import VehicleTold, sheet_of
from wornby.reports.workshop import ANY_GRADE, Workshop

RESTS_ON_FEW = "few records"
TOGETHER = f"{ALL}: each access paid once"
MUST = "degraded and a safety part: renew it before the vehicle is used, whatever it costs"


def sheet_answers(workshop: Workshop, vehicle: Vehicle) -> Answers:
    """The whole sheet: cost, order of work, where to look first, and each part's chance."""
    told = sheet_of(workshop, vehicle)
    return Answers(
        (
            cost_answer(workshop, told),
            work_answer(workshop, told),
            look_answer(workshop, told),
            part_answer(workshop, told),
        )
    )


def cost_answer(workshop: Workshop, told: VehicleTold) -> Answer:
    """What the vehicle's parts cost to the horizon, left alone or with the advised work done."""
    currency, tail = workshop.catalogue.currency, (1 - workshop.confidence) / 2
    rows = [
        (what, *np.quantile(cost, [0.5, tail, 1 - tail]).tolist(), float(cost.mean()), cost.size)
        for what, cost in (
            ("everything left until it fails", told.sheet.leave_cost),
            ("the advised work done now", told.sheet.advised_cost),
        )
    ]
    names = ("what is done", "median_net", "lower_net", "upper_net", "mean_net", "n_paths")
    people = [
        {
            "what is done": what,
            "half cost less than": money(middle, currency),
            f"{percent(workshop.confidence)} of such vehicles cost between": (
                f"{money(low, currency)} and {money(high, currency)}"
            ),
            "on average": money(mean, currency),
        }
        for what, middle, low, high, mean, _ in rows
    ]
    return Answer(
        f"What the parts of this vehicle cost within {told.sheet.horizon_years:g} years, "
        "before tax",
        pl.DataFrame(people),
        pl.DataFrame(rows, schema=names, orient="row"),
        (
            told.vehicle.sentence(),
            known_sentences(told.vehicle, workshop.catalogue),
            source_sentence(workshop.catalogue),
            "Everything left until it fails is there to compare, not as advice: a safety part "
            "found degraded is never left.",
            "Repairs and what failures on the road cost beyond them, before tax, at this "
            "workshop's prices; wear items and services that it does not follow are not in. The "
            "ranges hold luck, and how little the records may tell. Whenever an access is opened "
            "later, what pays by then is taken to be renewed too. Places of one component wear "
            "alike as said under the order of work; other parts of the vehicle are taken to live "
            "independently.",
            *(f"Not in: {name}: {why}." for name, why in told.left_out.items()),
        ),
    )


def work_answer(workshop: Workshop, told: VehicleTold) -> Answer:
    """The order of work by access: what to renew now, and what pays the next time it is open."""
    catalogue = workshop.catalogue
    currency, tax = catalogue.currency, money_of(catalogue).tax_rate
    unpriced = [name for name in told.must_go if name in told.left_out]
    plans = told.sheet.plans
    rows = [_typed_must(name) for name in unpriced] + [_typed_plan(plan, tax) for plan in plans]
    people = [_people_must(name) for name in unpriced] + [
        _people_plan(plan, currency, tax) for plan in plans
    ]
    return Answer(
        "Order of work",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            "Today's bill is access, follow-on work, hours and genuine parts. What is saved, and "
            "the two costs beside the bill, are before tax and means over "
            f"{told.sheet.horizon_years:g} years.",
            "Work is advised for money only where it saves beyond the doubt of the simulation; "
            "its chance of being right is that of the curves. A degraded safety part is never "
            "left.",
            *_gathered(told.notes),
            *cautions_for(list(catalogue.components.values())),
            DISCLAIMER,
        ),
    )


def _gathered(notes: tuple[str, ...]) -> list[str]:
    """Notes that say the same of several parts, as one that names them all."""
    by_text: dict[str, list[str]] = {}
    for note in notes:
        name, _, text = note.partition(": ")
        by_text.setdefault(text, []).append(name)
    return [f"{', '.join(names)}: {text}." for text, names in by_text.items()]


def _typed_must(name: str) -> dict[str, Any]:
    return {"access": name, "advice": "renew now", "renew_now": [name], "must": [name]}


def _people_must(name: str) -> dict[str, str]:
    return {"access": name, "renew": f"now: {name}", "advice": MUST}


def _typed_plan(plan: GroupPlan, tax: float) -> dict[str, Any]:
    return {
        "access": plan.group.name,
        "advice": _verdict(plan),
        "renew_now": list(plan.renew_now),
        "must": list(plan.must),
        "while_open": list(plan.while_open),
        "paid_now_net": plan.paid_now,
        "paid_now_gross": plan.paid_now * (1 + tax),
        "leave_cost_net": float(plan.leave_cost.mean()),
        "advised_cost_net": float(plan.advised_cost.mean()),
        "saving_net": plan.saving,
        "probability_right": plan.probability_right,
    }


def _verdict(plan: GroupPlan) -> str:
    if plan.must:
        return "renew now: safety"
    return "renew now: pays" if plan.renew_now else "leave shut"


def _people_plan(plan: GroupPlan, currency: str, tax: float) -> dict[str, str]:
    if plan.must:
        advice = f"{', '.join(plan.must)}: {MUST}"
    elif plan.renew_now:
        advice = f"open it now: saves {money(plan.saving, currency)} on average, before tax"
    else:
        advice = "leave it shut until something fails"
    renew = plan.renew_now or plan.while_open
    when = "now: " if plan.renew_now else "if it is opened anyway: "
    return {
        "access": plan.group.name,
        "renew": when + ", ".join(gathered(renew)) if renew else "only what fails",
        "advice": advice,
        "today's bill": with_tax(plan.paid_now, tax, currency) if plan.renew_now else "",
        "left alone it costs, before tax": money(float(plan.leave_cost.mean()), currency),
        "as advised, today's bill in it, before tax": money(
            float(plan.advised_cost.mean()), currency
        ),
        "chance to be right": "" if plan.must else percent(plan.probability_right),
    }


def part_answer(workshop: Workshop, told: VehicleTold) -> Answer:
    """Each part's chance of failing within the horizon, the money at stake, and the records."""
    currency, sheet = workshop.catalogue.currency, told.sheet
    rows = sorted(_part_rows(workshop, told), key=lambda row: -row["expected_cost_net"])
    total: dict[str, Any] = {
        "part": ALL,
        "expected_cost_net": float(sheet.leave_cost.mean()),
        "note": "each access paid once for all it serves, second failures counted",
    }
    people = [
        {
            "part": row["part"],
            "chance to fail": f"{percent(row['chance'])} "
            f"({between(row['chance_lower'], row['chance_upper'], 'chance')})",
            "at stake, before tax": f"{money(row['expected_cost_net'], currency)} "
            f"({money(row['expected_cost_lower_net'], currency)} to "
            f"{money(row['expected_cost_upper_net'], currency)})",
            "a failure costs, before tax": money(row["failure_cost_net"], currency),
            "taken to be": row["condition"],
            "rests on": f"{row['failures']:.0f} failures"
            + (f": {RESTS_ON_FEW}" if row["few"] else ""),
        }
        for row in rows
    ]
    whole = {"part": TOGETHER, "at stake, before tax": money(total["expected_cost_net"], currency)}
    return Answer(
        f"Chance to fail within {sheet.horizon_years:g} years",
        pl.DataFrame([*people, whole]),
        pl.DataFrame([*rows, total], infer_schema_length=None),
        (
            "At stake is the chance times what a failure costs: access, repair, and what it costs "
            "on the road. All together pays each access once for all it serves, so the parts' sums "
            "may come to more. Of a part of "
            "unknown age it is drawn from the curves whether it was renewed, and when. What a look "
            "found changes a part's life from here where the records tell how long a defect shows "
            "before it fails: degraded, it lives on for that delay; sound, a defect is less likely "
            "to be near.",
            f"A part counts as failed once it has {workshop.episodes.rule.failed}.",
        ),
    )


def _part_rows(workshop: Workshop, told: VehicleTold) -> list[dict[str, Any]]:
    tail = (1 - workshop.confidence) / 2
    rows = []
    for n, (part, component) in enumerate(zip(told.sheet.parts, told.components, strict=True)):
        chance, (_, variance) = told.sheet.chances[:, n], part.wears
        low, high = np.quantile(chance, [tail, 1 - tail])
        failures, few = _basis(workshop, component, told.known(n).origin)
        rows.append(
            {
                "part": part.name,
                "condition": _condition(told, n),
                "chance": float(chance.mean()),
                "chance_lower": float(low),
                "chance_upper": float(high),
                "failure_cost_net": float(told.sheet.if_failed[n]),
                "expected_cost_net": float(chance.mean() * told.sheet.if_failed[n]),
                "expected_cost_lower_net": float(low * told.sheet.if_failed[n]),
                "expected_cost_upper_net": float(high * told.sheet.if_failed[n]),
                "failures": failures,
                "few": few,
                "shared_wear_tau": float(np.median(variance / (variance + 2))),
                "note": "",
            }
        )
    return rows


def _condition(told: VehicleTold, n: int) -> str:
    part, known = told.sheet.parts[n], told.known(n)
    age = "of unknown age" if known.age_years is None else f"{known.age_years:.3g} years old"
    found = "found degraded, " if part.condition == DEGRADED else f"{part.condition}, "
    return f"{found}{known.origin}, {age}" if known.age_years is not None else f"{found}{age}"


def _basis(workshop: Workshop, component: Component, origin: str) -> tuple[float, bool]:
    """How many failures the part's curve rests on, and whether they are few."""
    renewed = workshop.renewed.get(ANY_GRADE, {}).get(component.name)
    original = workshop.original.get(component.name)
    curve = renewed if origin == "renewed" and renewed is not None else original or renewed
    return (curve.counts.n_failures, curve.weibull is None) if curve is not None else (0.0, True)
