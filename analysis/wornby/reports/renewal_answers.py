"""Answers on renewal: by itself at what age, and what else while a job is open."""

import math
from dataclasses import replace
from typing import Any

import polars as pl

from wornby.decisions.costs import failure_cost, planned_cost
from wornby.decisions.open_job import Neighbour, OpenJob
from wornby.decisions.renewal_age import (
    RenewalAdvice,
    UncertainRenewalAdvice,
    age_replacement_under,
)
from wornby.decisions.stated_costs import access_costs, money_of, part_costs
from wornby.decisions.while_open import WhileOpenAdvice, renew_while_open
from wornby.errors import EstimateError
from wornby.records.catalogue import Catalogue, Component
from wornby.reports.amounts import money, percent
from wornby.reports.answer import Answer, Answers
from wornby.reports.sentences import cautions_for
from wornby.reports.workshop import Workshop, life_in_years, pace_of

RENEWAL_GRADE = "genuine"
N_PATHS = 20_000
MOST_BUNDLES = 8
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
        life, _ = life_in_years(workshop, component, origin="renewed", miles_per_year=pace)
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


def while_open_advice(
    workshop: Workshop,
    group: str,
    *,
    age_years: float,
    miles_per_year: float,
    horizon_years: float,
    failed: str | None,
    degraded: frozenset[str] = frozenset(),
) -> WhileOpenAdvice:
    """Which neighbours to renew while the group is open, all parts as old as the vehicle."""
    job = OpenJob(
        group=access_costs(workshop.catalogue, group),
        neighbours=tuple(
            neighbour
            for component in workshop.catalogue.group(group)
            for neighbour in _neighbours(workshop, component, age_years, miles_per_year)
        ),
        failed=failed,
        degraded=degraded,
        horizon_years=horizon_years,
        labour_price_per_hour=money_of(workshop.catalogue).labour_price_per_hour,
    )
    return renew_while_open(job, n_paths=N_PATHS, rng=workshop.rng(f"{group} open"))


def _neighbours(
    workshop: Workshop, component: Component, age_years: float, miles_per_year: float
) -> list[Neighbour]:
    """One neighbour for each place of the component."""
    life, renewed = (
        life_in_years(workshop, component, origin=origin, miles_per_year=miles_per_year)[0]
        for origin in ("original", "renewed")
    )
    places = [f"{component.name}, {place}" for place in component.positions] or [component.name]
    costs = part_costs(workshop.catalogue, component.name, grade=RENEWAL_GRADE)
    return [
        Neighbour(
            costs=replace(costs, component=name),
            age_years=age_years,
            life=life,
            renewed_life=renewed,
        )
        for name in places
    ]


def bundle_answer(workshop: Workshop, advice: WhileOpenAdvice) -> Answer:
    """Every choice while the group is open, the cheapest first."""
    currency = workshop.catalogue.currency
    people = [
        {
            "renew now": _briefly(row["renew_now"], workshop.catalogue),
            "expected cost": money(row["expected_cost_net"], currency),
            "9 owners in 10 pay": f"{money(row['lower_cost_net'], currency)} to "
            f"{money(row['upper_cost_net'], currency)}",
            "more than the best": money(row["more_than_best_net"], currency),
            "opened again": percent(row["further_opening_chance"]),
            "chance of being best": percent(row["probability_best"]),
        }
        for row in advice.table.head(MOST_BUNDLES).to_dicts()
    ]
    job = advice.job
    return Answer(
        f"{job.group.name}: what to renew while it is open"
        + (f" for the {job.failed}" if job.failed else ""),
        pl.DataFrame(people),
        advice.table,
        (
            f"Costs to the owner over {job.horizon_years:g} years, before tax, on top of the job "
            f"that is open; {advice.later_policy}. {advice.n_paths:,} simulated futures, each "
            "with a curve as likely as the records leave it.",
            *advice.notes,
        ),
    )


def _from_age(age_years: float | None) -> str:
    if age_years is None:
        return "not in this horizon"
    return f"{age_years:.1f} years" if age_years else "any age"


def _briefly(bundle: str, catalogue: Catalogue) -> str:
    """A bundle's name with all places of a component said once: "coolant transfer pipe (both)"."""
    names = bundle.split(" + ")
    for component in catalogue.components.values():
        places = [f"{component.name}, {place}" for place in component.positions]
        if places and all(place in names for place in places):
            whole = f"{component.name} ({'both' if len(places) == 2 else 'all'})"
            names[names.index(places[0])] = whole
            names = [name for name in names if name not in places]
    return " + ".join(names)


def card_answers(workshop: Workshop, *, age_years: float, horizon_years: float) -> Answers:
    """The card of each access group, for a vehicle of this age and the median pace."""
    pace = pace_of(workshop)
    groups = [g for g in workshop.catalogue.access_groups if workshop.catalogue.group(g)]
    told = [
        while_open_advice(
            workshop,
            group,
            age_years=age_years,
            miles_per_year=pace,
            horizon_years=horizon_years,
            failed=None,
        )
        for group in groups
    ]
    return Answers(tuple(card_answer(workshop, advice) for advice in told))


def busiest_group_advice(
    workshop: Workshop, *, age_years: float, horizon_years: float
) -> WhileOpenAdvice:
    """The advice for the access group and failure that the workshop has open most often."""
    causes = workshop.records.sightings.filter(
        (pl.col("seen") == "renewed") & (pl.col("reason") == "failure")
    )
    counts = dict(causes.group_by("component").len().iter_rows())
    in_groups = [
        c
        for c in workshop.catalogue.components.values()
        if c.access_group is not None
        and not c.positions
        and len(workshop.catalogue.group(c.access_group)) > 1
        and c.name in workshop.original
    ]
    if not in_groups:
        raise EstimateError("no access group with two components of known life: nothing to renew")
    commonest = max(in_groups, key=lambda c: counts.get(c.name, 0))
    return while_open_advice(
        workshop,
        commonest.access_group or "",
        age_years=age_years,
        miles_per_year=pace_of(workshop),
        horizon_years=horizon_years,
        failed=commonest.name,
    )


def card_answer(workshop: Workshop, advice: WhileOpenAdvice) -> Answer:
    """The card over the ramp: from what age each neighbour is renewed while open."""
    people = [
        {
            "component": row["component"],
            "renew while open from": _from_age(row["break_even_age_years"]),
            "look for": workshop.catalogue.component(row["component"].split(",")[0]).look_for,
        }
        for row in advice.break_even_ages.to_dicts()
    ]
    return Answer(
        f"{advice.job.group.name}: break-even ages",
        pl.DataFrame(people),
        advice.break_even_ages,
        (
            f"For an owner who keeps the vehicle {advice.job.horizon_years:g} years.",
            *cautions_for(workshop.catalogue.group(advice.job.group.name)),
        ),
    )
