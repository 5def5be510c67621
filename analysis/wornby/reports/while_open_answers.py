"""Answers at the ramp: what else to renew while a job is open."""

from dataclasses import replace

import polars as pl

from wornby.decisions.open_job import Neighbour, OpenJob
from wornby.decisions.stated_costs import access_costs, money_of, part_costs
from wornby.decisions.while_open import WhileOpenAdvice, renew_while_open
from wornby.errors import EstimateError
from wornby.records.catalogue import Catalogue, Component
from wornby.reports.amounts import money, percent
from wornby.reports.answer import Answer, Answers
from wornby.reports.sentences import cautions_for
from wornby.reports.workshop import RENEWAL_GRADE, Workshop, life_in_years, pace_of

N_PATHS = 20_000
MOST_BUNDLES = 8


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
