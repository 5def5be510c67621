"""Answers at the ramp: what else to renew while a job is open."""

import polars as pl

from wornby.decisions.exact_programme import MOST_COMPONENTS, exact_beside_simulation
from wornby.decisions.while_open import BEST_NOW
from wornby.errors import EstimateError
from wornby.histories.counts import DAYS_PER_YEAR
from wornby.records.catalogue import Catalogue, Component
from wornby.reports.amounts import amount, money, percent, simulated_chance
from wornby.reports.answer import Answer, Answers
from wornby.reports.ramp import RampAdvice, busiest_group_advice
from wornby.reports.sentences import cautions_for
from wornby.reports.workshop import Workshop
from wornby.reports.yearly_pace import Pace

MOST_BUNDLES = 8
EXACT_PATHS = 10_000


def busiest_group_answers(workshop: Workshop, *, age_years: float, horizon_years: float) -> Answers:
    """An example: the access that fails most often open, its bundles and what else could be done.

    EstimateError: no access with two components of known life behind it.
    """
    told = busiest_group_advice(workshop, age_years=age_years, horizon_years=horizon_years)
    return Answers((bundle_answer(workshop, told), against_answer(workshop, told)))


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
            "opened again": simulated_chance(row["further_opening_chance"], draws=advice.n_paths),
            "chance of being best": simulated_chance(row["probability_best"], draws=advice.n_paths),
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
            f"that is open{_discounted(job.discount_rate_per_year)}; {advice.later_policy}. "
            f"{advice.n_paths:,} simulated futures, each with a curve as likely as the records "
            "leave it.",
            f"{advice.wear[0].upper()}{advice.wear[1:]}.",
            *_against_apart(told),
            *advice.notes,
            *told.left_out,
            *cautions_for(workshop.catalogue.group(job.group.name)),
        ),
    )


def _discounted(rate: float) -> str:
    return f", what is paid a year later counting {percent(rate)} less" if rate else ""


def _against_apart(told: RampAdvice) -> list[str]:
    """What it changes that places wear alike."""
    if told.apart is None:
        return []
    named = [" + ".join(one.best) or "nothing more" for one in (told.advice, told.apart)]
    ages = told.advice.break_even_ages.join(
        told.apart.break_even_ages.select("component", apart="break_even_age_years"),
        on="component",
        maintain_order="left",
    )
    moved = [
        f"{row['component']} {_years(row['break_even_age_years'])}, not {_years(row['apart'])}"
        for row in ages.to_dicts()
        if _years(row["break_even_age_years"]) != _years(row["apart"])
    ]
    best = "the same bundle" if named[0] == named[1] else f"another bundle ({named[1]})"
    ages_moved = f"; from what age renewing pays: {', '.join(moved)}" if moved else ""
    return [f"If its places lived independently, {best} would be best{ages_moved}."]


def _years(age: float | None) -> str:
    return "never" if age is None else f"{age:.1f} years"


def against_answer(workshop: Workshop, told: RampAdvice) -> Answer:
    """The best bundle beside leaving all, renewing all, and renewing only what fails."""
    currency, advice = workshop.catalogue.currency, told.advice
    people = [
        {
            "rule": row["rule"] + ("" if row["allowed"] else " (leaves a degraded safety part)"),
            "expected cost": money(row["expected_cost_net"], currency),
            "9 owners in 10 pay": f"{money(row['lower_cost_net'], currency)} to "
            f"{money(row['upper_cost_net'], currency)}",
            "the best saves": ""
            if row["rule"] == BEST_NOW
            else f"{money(row['saved_net'], currency)} "
            f"({money(row['saved_lower_net'], currency)} to "
            f"{money(row['saved_upper_net'], currency)})",
            "chance that the best is no dearer": ""
            if row["rule"] == BEST_NOW
            else simulated_chance(row["cheaper_chance"], draws=advice.n_paths),
        }
        for row in advice.against.to_dicts()
    ]
    best = " + ".join(advice.best) or "nothing more"
    return Answer(
        f"{advice.job.group.name}: the best bundle against plain rules",
        pl.DataFrame(people),
        advice.against,
        (
            f"The best bundle now is {best}, with a chance of {percent(advice.probability_best)} "
            "that no other is better on average, given what the records leave open of the curves.",
            "Saved in the mean, and in nine futures of ten between the amounts in brackets, on the "
            "same futures; a future holds luck besides, so that the best bundle is not the "
            "cheapest in each.",
            *cautions_for(workshop.catalogue.group(advice.job.group.name)),
        ),
    )


def check_exact(workshop: Workshop, group: str) -> None:
    """Refuse a group with more places than the exact programme takes, before anything is priced."""
    places = sum(max(len(c.positions), 1) for c in workshop.catalogue.group(group))
    if places > MOST_COMPONENTS:
        raise ValueError(
            f"{group}: {places} places, wanted at most {MOST_COMPONENTS} for the exact programme"
        )


def exact_answer(workshop: Workshop, told: RampAdvice) -> Answer:
    """The simulation beside the exact programme, for one curve a part: its middle one."""
    currency = workshop.catalogue.currency
    checked = exact_beside_simulation(
        told.advice.job, n_paths=EXACT_PATHS, rng=workshop.rng("exact programme")
    )
    people = [
        {
            "renew now": _briefly(row["renew_now"], workshop.catalogue),
            "exact, best at later openings": money(row["exact_best_net"], currency),
            "exact, later only what fails": money(row["exact_failed_only_net"], currency),
            "simulated, later only what fails": money(row["simulated_failed_only_net"], currency),
            "its standard error": f"{row['standard_error_net']:.1f}",
        }
        for row in checked.to_dicts()
    ]
    return Answer(
        f"{told.advice.job.group.name}: the exact programme",
        pl.DataFrame(people),
        checked,
        (
            "A dynamic programme over all openings to come (Bellman 1957), for the middle curve of "
            "each part as if it were known, parts living independently and none looked at: a check "
            "of the simulation, which takes in what the records leave open. No rule for later "
            "openings can cost less than the first column.",
        ),
    )


def card_answer(workshop: Workshop, told: RampAdvice) -> Answer:
    """The card over the ramp: from what age of the part each neighbour is renewed while open."""
    oldest = oldest_in_records(workshop)
    people = []
    for row in told.advice.break_even_ages.to_dicts():
        component = workshop.catalogue.component(row["component"].split(",")[0])
        people.append(
            {
                "component": row["component"],
                "renew while open once the part has done": from_age(
                    row["break_even_age_years"], component, told.ramp.pace, oldest
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
            f"{ramp.pace}, on a vehicle of {ramp.age_years:g} years whose other parts are "
            "original; the age is that of the part, not of the vehicle.",
            *cautions_for(workshop.catalogue.group(told.advice.job.group.name)),
            *told.left_out,
        ),
    )


def oldest_in_records(workshop: Workshop) -> float:
    """The age of the oldest vehicle: a break-even age beyond it is none."""
    close = pl.lit(workshop.catalogue.records_until)
    ages = workshop.records.vehicles.select((close - pl.col("first_registered")).dt.total_days())
    oldest = ages.max().item()
    if oldest is None:
        raise EstimateError("no vehicle has its first registration: no age to advise at")
    return float(oldest / DAYS_PER_YEAR)


def from_age(age_years: float | None, component: Component, pace: Pace, oldest_years: float) -> str:
    """The break-even to the nearest half year, or as distance where the part wears by distance."""
    if age_years is None or age_years > oldest_years:
        return "leave it: it fails too seldom in that time"
    if age_years == 0:
        return "any age"
    if component.scale == "distance":
        return f"{amount(round(age_years * pace.per_year, -3), pace.unit)} {pace.unit}"
    years = round(2 * age_years) / 2
    return f"{years:g} {'year' if years == 1 else 'years'}"


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
