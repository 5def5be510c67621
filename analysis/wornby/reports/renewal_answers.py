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
from wornby.errors import EstimateError
from wornby.records.catalogue import Component
from wornby.reports.amounts import amount, money, percent
from wornby.reports.answer import Answer
from wornby.reports.sentences import WORTH_IT, cautions_for
from wornby.reports.workshop import RENEWAL_GRADE, Workshop, life_in_years, pace_of


def renewal_age_answer(workshop: Workshop) -> Answer:
    """At what age to renew each component by itself, or to leave it until it fails."""
    catalogue, pace = workshop.catalogue, pace_of(workshop)
    rate = money_of(catalogue).labour_price_per_hour
    rows, people, unknown = [], [], []
    for component in catalogue.components.values():
        if component.access_group is None:
            continue
        try:
            life, _ = life_in_years(
                workshop, component, origin="renewed", grade=RENEWAL_GRADE, miles_per_year=pace
            )
        except EstimateError as error:
            unknown.append(str(error))
            continue
        part = part_costs(catalogue, component.name, grade=RENEWAL_GRADE)
        group = access_costs(catalogue, component.access_group)
        told = age_replacement_under(
            life,
            planned_cost=planned_cost(part, group, labour_price_per_hour=rate),
            failure_cost=failure_cost(part, group, labour_price_per_hour=rate),
            confidence=workshop.confidence,
        )
        rows.append({**_typed_age(component.name, told), "safety": component.safety})
        people.append(_people_age(component, told, catalogue.currency))
    if not rows:
        raise EstimateError(f"no component has a curve: {'; '.join(unknown)}")
    return Answer(
        "Renewing a part by itself, before it fails",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            f"Prices before tax, {RENEWAL_GRADE} parts, access paid each time; "
            f"{amount(pace, 'miles')} miles a year. Age replacement (Barlow & Hunter 1960) for the "
            "mean cost rate over what the records leave open of the curve. The chance of saving "
            "takes the costs in workshop.toml as certain.",
            *(f"Not known: {why}." for why in unknown),
            *cautions_for([c for c in catalogue.components.values() if c.safety]),
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


def _people_age(
    component: Component, told: UncertainRenewalAdvice, currency: str
) -> dict[str, str]:
    advice = told.advice
    runs = math.isinf(advice.age_years) or advice.saving < WORTH_IT
    best = f"{advice.age_years:.1f} ({advice.flat_from_years:.0f} to {_end(advice)})"
    saving = f"{percent(told.saving_lower)} to {percent(told.saving_upper)}"
    when = "run to failure" if runs else best
    if component.safety:
        when = f"a safety part: by inspection ({'' if runs else f'money alone: {best}'})"
        when = when.replace(" ()", "")
    return {
        "component": component.name,
        "renew at, years (within 5 % of best)": when,
        "cost a year": money(advice.cost_rate, currency),
        "if left until it fails": money(advice.run_to_failure_rate, currency),
        "saving (interval)": "none" if runs else f"{percent(advice.saving)} ({saving})",
        "chance that it saves": "" if runs else percent(told.probability_saves or 0.0),
    }


def _end(advice: RenewalAdvice) -> str:
    until = advice.flat_until_years
    return "failure" if math.isinf(until) else f"{until:.0f}"
