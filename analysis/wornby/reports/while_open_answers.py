"""Answers at the ramp: what else to renew while a job is open."""

import polars as pl

from wornby.histories.counts import DAYS_PER_YEAR
from wornby.records.catalogue import Catalogue, Component
from wornby.reports.amounts import amount, money, percent
from wornby.reports.answer import Answer, Answers
from wornby.reports.ramp import Ramp, RampAdvice, while_open_advice
from wornby.reports.sentences import cautions_for
from wornby.reports.workshop import Workshop, pace_of

MOST_BUNDLES = 8


def bundle_answer(workshop: Workshop, told: RampAdvice) -> Answer:
    """Every choice while the group is open that may be taken, the cheapest first."""
    currency, advice, job = workshop.catalogue.currency, told.advice, told.advice.job
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
        for row in advice.table.filter("allowed").head(MOST_BUNDLES).to_dicts()
    ]
    return Answer(
        f"{job.group.name}: what to renew while it is open"
        + (f" for the {job.failed}" if job.failed else ""),
        pl.DataFrame(people),
        advice.table,
        (
            told.ramp.sentence(),
            f"Costs to the owner over {job.horizon_years:g} years, before tax, on top of the job "
            f"that is open; {advice.later_policy}. {advice.n_paths:,} simulated futures, each "
            "with a curve as likely as the records leave it.",
            *advice.notes,
            *told.left_out,
        ),
    )


def card_answer(workshop: Workshop, told: RampAdvice) -> Answer:
    """The card over the ramp: from what age of the part each neighbour is renewed while open."""
    close = pl.lit(workshop.catalogue.records_until)
    ages = workshop.records.vehicles.select((close - pl.col("first_registered")).dt.total_days())
    oldest = ages.max().item() / DAYS_PER_YEAR
    people = []
    for row in told.advice.break_even_ages.to_dicts():
        component = workshop.catalogue.component(row["component"].split(",")[0])
        people.append(
            {
                "component": row["component"],
                "renew while open once the part has done": _from_age(
                    row["break_even_age_years"], component, told.ramp.miles_per_year, oldest
                ),
                "look for": component.look_for,
            }
        )
    ramp = told.ramp
    return Answer(
        f"{told.advice.job.group.name}: renew while open",
        pl.DataFrame(people),
        told.advice.break_even_ages,
        (
            f"For an owner who keeps the vehicle {ramp.horizon_years:g} years and does "
            f"{amount(ramp.miles_per_year, 'miles')} miles a year, the neighbours of a vehicle of "
            f"{ramp.age_years:g} years being original; the age is that of the part, not of the "
            "vehicle.",
            *cautions_for(workshop.catalogue.group(told.advice.job.group.name)),
            *told.left_out,
        ),
    )


def _from_age(
    age_years: float | None, component: Component, miles_per_year: float, oldest_years: float
) -> str:
    """The break-even to the nearest half year, or in miles where the part wears by distance."""
    if age_years is None or age_years > oldest_years:
        return "leave it: it fails too seldom in that time"
    if age_years == 0:
        return "any age"
    if component.scale == "distance":
        return f"{amount(round(age_years * miles_per_year, -3), 'miles')} miles"
    return f"{round(2 * age_years) / 2:g} years"


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
    ramp = Ramp(age_years, pace_of(workshop), horizon_years, {})
    groups = [g for g in workshop.catalogue.access_groups if workshop.catalogue.group(g)]
    told = [while_open_advice(workshop, group, ramp, failed=None) for group in groups]
    return Answers(tuple(card_answer(workshop, advice) for advice in told))
