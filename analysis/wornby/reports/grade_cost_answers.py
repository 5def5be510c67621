"""Answers on part grades in money: cost a year of service, comebacks and labour included."""

from typing import Any

import polars as pl

from wornby.curves.components import ENOUGH_FAILURES, ComponentCurve
from wornby.decisions.costs import failure_cost, planned_cost
from wornby.decisions.grade_choice import EARLY_MONTHS, GradeChoice, GradeCost, grade_costs
from wornby.decisions.stated_costs import access_of, money_of, part_costs
from wornby.errors import EstimateError
from wornby.histories.counts import YEARS
from wornby.progress import each
from wornby.records.catalogue import Component
from wornby.reports.amounts import money, percent, simulated_chance
from wornby.reports.answer import Answer
from wornby.reports.comparison_answers import grade_answer
from wornby.reports.sentences import SURE as DIFFERS
from wornby.reports.sentences import cautions_for
from wornby.reports.workshop import N_DRAWS, Workshop, pace_of

FEWEST_FITTED = 5
SURE = 0.9
NOT_APART = "by the cost of a failure: their lives cannot be told apart yet"


def grade_cost_answer(workshop: Workshop, *, service_years: float) -> Answer:
    """What each part grade costs a year of service, and how surely the dearer part is cheaper."""
    money_of(workshop.catalogue)
    apart = _told_apart(workshop)
    rows: list[dict[str, Any]] = []
    people = []
    for component in each(list(workshop.catalogue.components.values()), "part grades"):
        curves = _watched(workshop, component)
        if len(curves) < 2:
            continue
        choices = [_choice(workshop, component, grade, curve) for grade, curve in curves.items()]
        for cost in grade_costs(
            choices, service_years=service_years, confidence=workshop.confidence
        ):
            row = _typed(component.name, cost, curves[cost.grade], service_years)
            rows.append(row | {"told_apart": (component.name, cost.grade) in apart})
            people.append(_people(rows[-1], workshop.catalogue.currency))
    if not rows:
        raise EstimateError(
            f"no component has {FEWEST_FITTED} fitments watched in each of two priced grades: "
            "nothing to compare"
        )
    return Answer(
        f"What each part grade costs a year, over {service_years:g} years of service",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            "Fitted once by appointment and renewed in the same grade at each failure: part, "
            "access, labour, follow-on work and what a failure on the road costs, before tax. A "
            "comeback counts in full, whoever pays for it.",
            f"The dearest part is worth paying for where it costs less a year with a chance of "
            f"{percent(SURE)} or more. Where the lives of the two cannot be told apart by counting "
            "failures, that rests on how much dearer a failure is than the part, and the row says "
            "so.",
            f"A part counts as failed once it has {workshop.episodes.rule.failed}. Each grade's "
            f"life is drawn from its own posterior; with fewer than {ENOUGH_FAILURES} failures the "
            "prior for the shape speaks, and the row says so. It rests on the fitments whose age "
            "or, where a part wears by distance, whose distance is known: fewer than are counted "
            "by grade.",
            *cautions_for([workshop.catalogue.component(row["component"]) for row in rows]),
        ),
    )


def _told_apart(workshop: Workshop) -> set[tuple[str, str]]:
    """The grades that differ from the others of their component; none where that is not known."""
    try:
        grades = grade_answer(workshop).frame.filter(pl.col("p_value_held") < DIFFERS)
    except EstimateError:
        return set()
    return set(grades.select("component", "grade").iter_rows())


def _watched(workshop: Workshop, component: Component) -> dict[str, ComponentCurve]:
    """The priced grades of which enough were fitted and watched."""
    curves = {
        grade: workshop.renewed.get(grade, {}).get(component.name)
        for grade in component.part_price_net
    }
    return {g: c for g, c in curves.items() if c is not None and c.counts.n_lives >= FEWEST_FITTED}


def _choice(
    workshop: Workshop, component: Component, grade: str, curve: ComponentCurve
) -> GradeChoice:
    catalogue = workshop.catalogue
    hour = money_of(catalogue).labour_price_per_hour
    costs, group = (
        part_costs(catalogue, component.name, grade=grade),
        access_of(catalogue, component),
    )
    draws = curve.posterior.draws(workshop.rng(f"{component.name} {grade} cost"), N_DRAWS)
    if component.scale == "distance":
        draws = draws.on_scale(pace_of(workshop).per_year, YEARS)
    return GradeChoice(
        grade=grade,
        life=draws,
        price_net=component.part_price_net[grade],
        fitting_net=planned_cost(costs, group, labour_price_per_hour=hour),
        failure_net=failure_cost(costs, group, labour_price_per_hour=hour),
    )


def _typed(
    component: str, cost: GradeCost, curve: ComponentCurve, service_years: float
) -> dict[str, Any]:
    told: dict[str, Any] = {
        "component": component,
        "grade": cost.grade,
        "price_net": cost.price_net,
        "fitments": curve.counts.n_lives,
        "failures": curve.counts.n_failures,
    }
    for months, early in zip(EARLY_MONTHS, cost.early, strict=True):
        told |= {f"failed_{months}_months_by_curve": early.value,
                 f"failed_{months}_months_by_curve_lower": early.lower,
                 f"failed_{months}_months_by_curve_upper": early.upper}  # fmt: skip
    return told | {
        "service_years": service_years,
        "cost_per_year_net": cost.per_year.value,
        "cost_per_year_lower": cost.per_year.lower,
        "cost_per_year_upper": cost.per_year.upper,
        "cheapest_probability": cost.cheapest,
        "dearest_cheaper_probability": cost.dearest_cheaper,
        "few": curve.weibull is None,
    }


def _people(row: dict[str, Any], currency: str) -> dict[str, str]:
    year, lower, upper = (
        money(row[f"cost_per_year_{end}"], currency) for end in ("net", "lower", "upper")
    )
    return {
        "part, grade": f"{row['component']}, {row['grade']}",
        "dearest part worth paying for": _verdict(row),
        "costs a year": f"{year} ({lower} to {upper}){', few failed' if row['few'] else ''}",
        "part": money(row["price_net"], currency),
    }


def _verdict(row: dict[str, Any]) -> str:
    chance = row["dearest_cheaper_probability"]
    if chance is None:
        return "the dearest"
    told = simulated_chance(chance, draws=N_DRAWS)
    if 1 - SURE < chance < SURE:
        return f"not enough to tell ({told})"
    if chance < SURE:
        return f"no ({told})"
    return f"yes ({told})" if row["told_apart"] else f"likely ({told}), {NOT_APART}"
