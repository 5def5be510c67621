"""Answers on renewal: at what age to renew a part by itself."""

import math
from typing import Any

import polars as pl

from wornby.decisions.costs import failure_cost, planned_cost
from wornby.decisions.renewal_age import (
    RenewalAdvice,
    UncertainRenewalAdvice,
    age_replacement_under,
)
from wornby.decisions.stated_costs import access_costs, money_of, part_costs
from wornby.reports.amounts import money, percent
from wornby.reports.answer import Answer
from wornby.reports.workshop import RENEWAL_GRADE, Workshop, life_in_years, pace_of

WORTH_IT = 0.01
"""A saving of less than one per cent of the cost is none: what is close to it may be left."""


def renewal_age_answer(workshop: Workshop) -> Answer:
    """At what age to renew each component by itself, or to leave it until it fails."""
    catalogue, pace = workshop.catalogue, pace_of(workshop)
    rate = money_of(catalogue).labour_price_per_hour
    rows, people = [], []
    for component in catalogue.components.values():
        if component.access_group is None or component.name not in workshop.original:
            continue
        life, _ = life_in_years(
            workshop, component, origin="renewed", grade=RENEWAL_GRADE, miles_per_year=pace
        )
        part = part_costs(catalogue, component.name, grade=RENEWAL_GRADE)
        group = access_costs(catalogue, component.access_group)
        told = age_replacement_under(
            life,
            planned_cost=planned_cost(part, group, labour_price_per_hour=rate),
            failure_cost=failure_cost(part, group, labour_price_per_hour=rate),
            confidence=workshop.confidence,
        )
        rows.append(_typed_age(component.name, told))
        people.append(_people_age(component.name, told, catalogue.currency))
    return Answer(
        "Renewing a part by itself, before it fails",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            f"Prices before tax, {RENEWAL_GRADE} parts, access paid each time; "
            f"{pace:,.0f} miles a year. Age replacement (Barlow & Hunter 1960) for the mean cost "
            "rate over what the records leave open of the curve.",
        ),
    )


def _typed_age(name: str, told: UncertainRenewalAdvice) -> dict[str, Any]:
    advice = told.advice
    return {
        "component": name,
        "renew_at_years": advice.age_years,
        "renew_at_lower_years": told.age_lower,
        "renew_at_upper_years": told.age_upper,
        "cost_per_year_net": advice.cost_rate,
        "run_to_failure_per_year_net": advice.run_to_failure_rate,
        "saving_share": advice.saving,
        "saving_lower_share": told.saving_lower,
        "saving_upper_share": told.saving_upper,
        "probability_saves": told.probability_saves,
        "planned_cost_net": advice.planned_cost,
        "failure_cost_net": advice.failure_cost,
        "reason": advice.reason,
    }


def _people_age(name: str, told: UncertainRenewalAdvice, currency: str) -> dict[str, str]:
    advice = told.advice
    runs = math.isinf(advice.age_years) or advice.saving < WORTH_IT
    best = f"{advice.age_years:.1f} ({advice.flat_from_years:.0f} to {_end(advice)})"
    saving = f"{percent(told.saving_lower)} to {percent(told.saving_upper)}"
    return {
        "component": name,
        "renew at, years (within 5 % of best)": "run to failure" if runs else best,
        "cost a year": money(advice.cost_rate, currency),
        "if left until it fails": money(advice.run_to_failure_rate, currency),
        "saving (interval)": "none" if runs else f"{percent(advice.saving)} ({saving})",
        "chance that it saves": "" if runs else percent(told.probability_saves or 0.0),
    }


def _end(advice: RenewalAdvice) -> str:
    until = advice.flat_until_years
    return "failure" if math.isinf(until) else f"{until:.0f}"
