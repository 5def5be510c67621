"""Answers on how to renew: alone by age, when the access happens to be open, by the calendar."""

import math
from typing import Any

import polars as pl

from wornby.decisions.least_cost_age import UncertainRenewalAdvice
from wornby.decisions.opening_rates import ChanceOpenings, chance_openings
from wornby.decisions.policy_costs import (
    ALONE,
    BY_CALENDAR,
    LEFT,
    N_DRAWS,
    WHEN_OPEN,
    Policies,
    policies,
)
from wornby.decisions.stated_costs import access_of, money_of, part_costs
from wornby.errors import EstimateError
from wornby.progress import each
from wornby.records.catalogue import Component
from wornby.reports.amounts import money, percent, simulated_chance
from wornby.reports.answer import Answer
from wornby.reports.renewal_answers import RenewalAges, life_notes, renewal_ages
from wornby.reports.sentences import WORTH_IT, cautions_for
from wornby.reports.workshop import RENEWAL_GRADE, Workshop

KEYS = {ALONE: "alone", WHEN_OPEN: "when_open", BY_CALENDAR: "by_calendar"}
WORDS = {
    ALONE: "at {:.1f} years",
    WHEN_OPEN: "past {:.1f} years",
    BY_CALENDAR: "every {:.1f} years",
}

ALWAYS_BELOW_YEARS = 0.1


def policy_answer(workshop: Workshop) -> Answer:
    """How to renew each component: by age, when its access is open anyway, or by the calendar."""
    ages, rows, people = renewal_ages(workshop), [], []
    left_out: list[str] = []
    for name in each(list(ages.told), "policies"):
        component = workshop.catalogue.components[name]
        openings = chance_openings(workshop.records, name)
        try:
            told = _policies(workshop, component, ages, openings)
        except EstimateError as error:
            left_out.append(f"{name}: left out: {error}.")
            continue
        alone = ages.told[name]
        rows.append(_typed(workshop, component, told, openings, alone=alone))
        too_few = ages.lives[name].too_few
        people.append(_people(workshop, component, told, openings, alone=alone, too_few=too_few))
    everything = list(workshop.catalogue.components.values())
    return Answer(
        "How to renew: alone, when open, by the calendar, or not before it fails",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        (*_notes(), *left_out, *life_notes(ages), *cautions_for(everything)),
    )


def _policies(
    workshop: Workshop, component: Component, ages: RenewalAges, openings: ChanceOpenings | None
) -> Policies:
    catalogue = workshop.catalogue
    rng = workshop.rng(f"{component.name} openings")
    return policies(
        ages.lives[component.name].draws,
        part=part_costs(catalogue, component.name, grade=RENEWAL_GRADE),
        group=access_of(catalogue, component),
        labour_price_per_hour=money_of(catalogue).labour_price_per_hour,
        openings_per_year=None if openings is None else openings.draws(N_DRAWS, rng),
        confidence=workshop.confidence,
    )


def _told(told: Policies, alone: UncertainRenewalAdvice) -> dict[str, UncertainRenewalAdvice]:
    """Each policy; alone as the answer on renewal by itself has it, of more draws."""
    return {**told.told, ALONE: alone}


def _typed(
    workshop: Workshop,
    component: Component,
    told: Policies,
    openings: ChanceOpenings | None,
    *,
    alone: UncertainRenewalAdvice,
) -> dict[str, Any]:
    best = told.cheapest(worth_it=WORTH_IT)
    low, high = (None, None) if openings is None else openings.interval(workshop.confidence)
    row: dict[str, Any] = {
        "component": component.name,
        "cheapest": best,
        "probability_cheapest": told.probability_cheapest(best, worth_it=WORTH_IT),
        "safety": component.safety,
        "openings": None if openings is None else openings.n,
        "openings_per_year": None if openings is None else openings.per_year,
        "openings_lower_per_year": low,
        "openings_upper_per_year": high,
        "left_per_year_net": alone.advice.run_to_failure_rate,
    }
    for name, key in KEYS.items():
        one = _told(told, alone).get(name)
        row |= {
            f"{key}_years": None if one is None else one.advice.age_years,
            f"{key}_flat_from_years": None if one is None else one.advice.flat_from_years,
            f"{key}_flat_until_years": None if one is None else one.advice.flat_until_years,
            f"{key}_per_year_net": None if one is None else one.advice.cost_rate,
            f"{key}_lower_net": None if one is None else one.cost_rate_lower,
            f"{key}_upper_net": None if one is None else one.cost_rate_upper,
            f"{key}_saving_share": None if one is None else one.advice.saving,
            f"{key}_probability_saves": None if one is None else one.probability_saves,
        }
    return row


def _people(
    workshop: Workshop,
    component: Component,
    told: Policies,
    openings: ChanceOpenings | None,
    *,
    alone: UncertainRenewalAdvice,
    too_few: str,
) -> dict[str, str]:
    currency, best = workshop.catalogue.currency, told.cheapest(worth_it=WORTH_IT)
    chance = simulated_chance(told.probability_cheapest(best, worth_it=WORTH_IT), draws=N_DRAWS)
    shown = _told(told, alone)
    opened = "" if openings is None else f"{openings.per_year:.2f}"
    row = {
        "component": component.name,
        "cheapest (chance)": "a safety part: by inspection"
        if component.safety
        else f"{best} ({chance})",
        **{f"{name}, a year": _cell(shown.get(name), name, currency) for name in KEYS},
        f"{LEFT}, a year": money(alone.advice.run_to_failure_rate, currency),
        "opened for others, times a year": opened,
    }
    if too_few and not component.safety:
        told_alone = {"component": component.name, "cheapest (chance)": too_few}
        return {**dict.fromkeys(row, ""), **told_alone}
    return row


def _cell(one: UncertainRenewalAdvice | None, name: str, currency: str) -> str:
    """A policy's age and cost: "at 9.0 years: £65"."""
    if one is None:
        return "nothing else opens it"
    age = one.advice.age_years
    if math.isinf(age) or one.advice.saving < WORTH_IT:
        return "saves nothing"
    always = name == WHEN_OPEN and age < ALWAYS_BELOW_YEARS
    at = "at any age" if always else WORDS[name].format(age)
    return f"{at}: {money(one.advice.cost_rate, currency)}"


def _notes() -> tuple[str, ...]:
    return (
        f"Prices before tax, {RENEWAL_GRADE} parts. Alone and by the calendar pay the access each "
        "time, as a failure does; when open, another job has paid it. Left until it fails is "
        "doing nothing. A policy within "
        f"{percent(WORTH_IT)} of leaving is called none; the chance is that no other policy is "
        f"cheaper by more than {percent(WORTH_IT)} of leaving.",
        "When open: a visit that renewed a neighbour of the group, this part neither failed nor "
        "degraded, counted over vehicle-years from first to last visit and taken to come by "
        "chance at one rate (Dekker & Dijkstra 1992). It looks at one part for the long run; "
        "`--group` weighs all neighbours for one vehicle and owner.",
        "By the calendar: renewed every so many years even if it failed in between (Barlow & "
        "Proschan 1965). It needs no record of when a part was fitted, and never costs less than "
        "renewal by age.",
    )
