"""Answers on looking: how long a part shows, what each look would catch, how often to look."""

from dataclasses import dataclass
from typing import Any

import polars as pl

from wornby.curves.components import ENOUGH_FAILURES
from wornby.curves.delay_times import PRIOR_BASIS, DelayTime
from wornby.decisions.costs import failure_cost, planned_cost
from wornby.decisions.inspect_when import InspectionCosts, methods_table
from wornby.decisions.look_plans import LookPlan, look_plan
from wornby.decisions.stated_costs import access_of, money_of, part_costs
from wornby.errors import EstimateError, RecordError
from wornby.histories.counts import YEARS
from wornby.progress import each
from wornby.records.catalogue import Component, Look
from wornby.reports.amounts import amount, between, money, percent
from wornby.reports.answer import Answer, Answers
from wornby.reports.delays import delay_of, looks_of, seen_by, service_look
from wornby.reports.medians_in_the_book import book_ages
from wornby.reports.sentences import cautions_for
from wornby.reports.workshop import RENEWAL_GRADE, Workshop, life_in_years, pace_of

MONTHS = 12
N_DELAYS = 200
"""So many of a delay's draws place an interval to a few days."""
INTERVALS_MONTHS = (3, 6, 12, 24)
SAFETY = "safety part: looked at whatever it costs"
WAIT = "no interval pays: wait for failures"


@dataclass(frozen=True, eq=False, slots=True)
class KnownDelays:
    """The components whose delay the records tell, and why the others' is not known."""

    delays: dict[str, DelayTime]
    unknown: dict[str, str]


def known_delays(workshop: Workshop) -> KnownDelays:
    """Fit each component's delay time; refuse where none can be learnt."""
    service_look(workshop.catalogue)
    delays, unknown = {}, {}
    for component in each(list(workshop.catalogue.components.values()), "looks"):
        try:
            delays[component.name] = delay_of(workshop, component)
        except EstimateError as error:
            unknown[component.name] = str(error)
    if not delays:
        raise EstimateError(f"no component's delay is known: {'; '.join(unknown.values())}")
    return KnownDelays(delays, unknown)


def looking_answers(workshop: Workshop, *, share: float) -> Answers:
    """How often to look at each component, by each way that sees it, and what each way catches."""
    if not 0 < share < 1:
        raise ValueError(f"share to catch {share:g}: wanted between 0 and 1")
    known = known_delays(workshop)
    return Answers(
        (inspection_answer(workshop, known, share=share), method_answer(workshop, known))
    )


def inspection_answer(workshop: Workshop, known: KnownDelays, *, share: float) -> Answer:
    """How often to look at each component, by each way that sees it."""
    hour = money_of(workshop.catalogue).labour_price_per_hour
    plans, unknown = [], dict(known.unknown)
    for name, delay in known.delays.items():
        component = workshop.catalogue.component(name)
        try:
            plans += [(delay, plan) for plan in _plans(workshop, component, delay, share, hour)]
        except (EstimateError, RecordError) as error:
            unknown[name] = str(error)
    if not plans:
        raise EstimateError("no way of looking sees a component whose delay is known")
    components = workshop.catalogue.components
    currency = workshop.catalogue.currency
    return Answer(
        "How often to look",
        pl.DataFrame([_people(d, p, components[p.component], currency) for d, p in plans]),
        pl.DataFrame(
            [_typed(d, p, components[p.component]) for d, p in plans], infer_schema_length=None
        ),
        (*_notes(workshop, share), *(f"Not known: {why}." for why in unknown.values())),
    )


def _plans(
    workshop: Workshop, component: Component, delay: DelayTime, share: float, hour_net: float
) -> list[LookPlan]:
    catalogue = workshop.catalogue
    costs = part_costs(catalogue, component.name, grade=RENEWAL_GRADE)
    group = access_of(catalogue, component)
    defects = _defects_per_year(workshop, component)
    return [
        look_plan(
            delay.life.thinned(N_DELAYS),
            component=component.name,
            way=look.name,
            detection=seen_by(look, component),
            share=share,
            defects_per_year=defects,
            costs=InspectionCosts(
                inspection_net=look.minutes / 60 * hour_net * max(len(component.positions), 1),
                failure_net=failure_cost(costs, group, labour_price_per_hour=hour_net),
                caught_net=planned_cost(costs, group, labour_price_per_hour=hour_net),
                out_of_use_years=0.0,
            ),
            confidence=workshop.confidence,
        )
        for look in looks_of(catalogue).values()
        if seen_by(look, component)
    ]


def _defects_per_year(workshop: Workshop, component: Component) -> float:
    """Failures a year of all places of the component, on a vehicle of the book's median age."""
    life, _ = life_in_years(
        workshop, component, origin="original", grade="", pace=pace_of(workshop)
    )
    age = book_ages(workshop)[YEARS]
    left = life.survival([age, age + 1]).mean(axis=0)
    return float(1 - left[1] / left[0]) * max(len(component.positions), 1)


def _typed(delay: DelayTime, plan: LookPlan, component: Component) -> dict[str, Any]:
    """The plan as numbers; whether looking pays is not asked of a safety part."""
    asked = not component.safety
    return {
        "component": plan.component,
        "safety": component.safety,
        "way": plan.way,
        "detection": plan.detection,
        "found_degraded": delay.n_degraded,
        "failed_unseen": delay.n_failed,
        "share": plan.share,
        "interval_for_share_years": plan.for_share.value,
        "interval_for_share_lower": plan.for_share.lower,
        "interval_for_share_upper": plan.for_share.upper,
        "cheapest_interval_years": plan.cheapest.interval_years if asked else None,
        "cheapest_catch_share": plan.cheapest.catch_share if asked else None,
        "cost_per_year_net": plan.cheapest.cost_rate if asked else None,
        "waiting_cost_per_year_net": plan.cheapest.never_rate,
        "pays_probability": plan.pays_probability if asked else None,
    }


def _people(
    delay: DelayTime, plan: LookPlan, component: Component, currency: str
) -> dict[str, str]:
    mean = delay.mean(confidence=plan.for_share.confidence)
    return {
        "component": plan.component,
        "way of looking": plan.way,
        "sees": percent(plan.detection),
        "shows before it fails, months": _months(mean.value, mean.lower, mean.upper),
        "found degraded, failed unseen": f"{delay.n_degraded:.0f}, {delay.n_failed:.0f}"
        + (" (few)" if delay.n_degraded < ENOUGH_FAILURES else ""),
        f"look every … months to catch {percent(plan.share)}": _months(
            plan.for_share.value, plan.for_share.lower, plan.for_share.upper
        ),
        "cheapest": _cheapest(plan, component, currency),
    }


def _cheapest(plan: LookPlan, component: Component, currency: str) -> str:
    if component.safety:
        return SAFETY
    best = plan.cheapest
    if best.reason:
        return WAIT
    saved = money(best.never_rate - best.cost_rate, currency)
    return (
        f"every {MONTHS * best.interval_years:.0f} months: catches {percent(best.catch_share)}, "
        f"saves {saved} a year; {percent(plan.pays_probability)} sure"
    )


def _months(value: float | None, lower: float | None, upper: float | None) -> str:
    if value is None or lower is None or upper is None:
        return "out of reach"
    told = f"{amount(MONTHS * lower, 'months')} to {amount(MONTHS * upper, 'months')}"
    return f"{amount(MONTHS * value, 'months')} ({told})"


def _notes(workshop: Workshop, share: float) -> tuple[str, ...]:
    components = list(workshop.catalogue.components.values())
    return (
        "Original parts. A defect is taken to show for a time that does not depend on how long it "
        f"has shown; {PRIOR_BASIS}. Routine visits and the first are taken to look "
        f"{service_look(workshop.catalogue).name}, with the chance to see that workshop.toml "
        "states: where it is too high, the delay comes out too short.",
        "Catching a defect costs a planned renewal, missing it the failure; a look costs its "
        f"minutes for each part, before tax. Failures come at the rate of a vehicle of "
        f"{book_ages(workshop)[YEARS]:.0f} years. A look that sees several parts at once costs "
        "less for each than is counted here.",
        f"The share of {percent(share)} is of defects that would else fail unseen. Intervals are "
        f"credible ones at {workshop.confidence:.0%}.",
        *cautions_for(components),
    )


def method_answer(workshop: Workshop, known: KnownDelays) -> Answer:
    """What each way of looking would catch, at looks every so many months."""
    tables = []
    for name, delay in known.delays.items():
        ways = _ways(looks_of(workshop.catalogue), workshop.catalogue.component(name))
        years = [months / MONTHS for months in INTERVALS_MONTHS]
        table = methods_table(delay.life, ways, years, confidence=workshop.confidence)
        tables.append(table.select(pl.lit(name).alias("component"), pl.all()))
    frame = pl.concat(tables)
    people = [
        {"component": name, "way of looking": way, "sees": percent(rows["detection"][0])}
        | {
            f"every {months} months": f"{percent(row['catch_share'])} "
            f"({between(row['catch_share_lower'], row['catch_share_upper'], 'share')})"
            for months, row in zip(INTERVALS_MONTHS, rows.to_dicts(), strict=True)
        }
        for (name, way), rows in frame.group_by("component", "method", maintain_order=True)
    ]
    wide = frame.pivot(
        "interval_years",
        index=["component", "method", "detection"],
        values=["catch_share", "catch_share_lower", "catch_share_upper"],
    )
    return Answer(
        "Share of defects caught before they fail",
        pl.DataFrame(people),
        wide,
        ("Of defects that show; see the delays in the table of how often to look.",),
    )


def _ways(looks: dict[str, Look], component: Component) -> dict[str, float]:
    """The ways that see the component, and how well."""
    sees = {name: seen_by(look, component) for name, look in looks.items()}
    return {name: chance for name, chance in sees.items() if chance > 0}
