"""Answers on renewal: at what age to renew a part by itself."""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import polars as pl

from wornby.decisions.costs import failure_cost, planned_cost
from wornby.decisions.least_cost_age import RenewalAdvice, UncertainRenewalAdvice
from wornby.decisions.renewal_age import age_replacement
from wornby.decisions.stated_costs import access_of, money_of, part_costs
from wornby.errors import EstimateError, RecordError
from wornby.progress import each
from wornby.records.catalogue import Component
from wornby.reports.amounts import money, percent, simulated_chance
from wornby.reports.answer import Answer
from wornby.reports.renewal_lives import SMOOTHED_LIFE, RenewalLife, renewal_life
from wornby.reports.sentences import WORTH_IT, cautions_for
from wornby.reports.workshop import RENEWAL_GRADE, Workshop, pace_of


@dataclass(frozen=True, eq=False, slots=True)
class RenewalAges:
    """The advice on each component renewed by itself, how it lives, and what is not known."""

    told: dict[str, UncertainRenewalAdvice]
    lives: dict[str, RenewalLife]
    unknown: tuple[str, ...]


@lru_cache(maxsize=2)
def renewal_ages(workshop: Workshop) -> RenewalAges:
    """Price every age of renewal of each component that workshop.toml prices; found once."""
    catalogue = workshop.catalogue
    rate = money_of(catalogue).labour_price_per_hour
    told, lives, unknown = {}, {}, []
    for component in each(list(catalogue.components.values()), "renewal ages"):
        try:
            part = part_costs(catalogue, component.name, grade=RENEWAL_GRADE)
            group = access_of(catalogue, component)
            lives[component.name] = renewal_life(workshop, component)
            told[component.name] = age_replacement(
                lives[component.name].draws,
                planned_cost=planned_cost(part, group, labour_price_per_hour=rate),
                failure_cost=failure_cost(part, group, labour_price_per_hour=rate),
                confidence=workshop.confidence,
            )
        except (EstimateError, RecordError) as error:
            unknown.append(str(error))
    if not told:
        raise EstimateError(f"no component has a curve and its costs: {'; '.join(unknown)}")
    return RenewalAges(told, lives, tuple(unknown))


def renewal_age_answer(workshop: Workshop) -> Answer:
    """At what age to renew each component by itself, or to leave it until it fails."""
    ages, catalogue = renewal_ages(workshop), workshop.catalogue
    components = [catalogue.components[name] for name in ages.told]
    rows = [_typed_age(c, ages) for c in components]
    people = [_people_age(c, ages, catalogue.currency) for c in components]
    return Answer(
        "Renewing a part by itself, before it fails",
        pl.DataFrame(people, schema=PEOPLE_COLUMNS).fill_null(""),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            f"Prices before tax, {RENEWAL_GRADE} parts, access paid each time; "
            f"{pace_of(workshop)}. Age replacement (Barlow & Hunter "
            "1960) for the mean cost rate over what the records leave open of the curve. The "
            "chance that renewing early is right is that of the age named; where a part is left, "
            f"that some age would save {percent(WORTH_IT)} or more. The interval is the middle "
            f"{workshop.confidence:.0%} of what the records leave open; it takes the costs in "
            "workshop.toml as certain.",
            *life_notes(ages),
            *cautions_for(components),
        ),
    )


def life_notes(ages: RenewalAges) -> tuple[str, ...]:
    """Which curves are no Weibull, which were borrowed, and what has none."""
    smoothed = [name for name, life in ages.lives.items() if life.form == SMOOTHED_LIFE]
    formless = (
        f"No Weibull fits {', '.join(smoothed)}: the curve is smoothed from the failures, its "
        "hazard constant beyond the last of them."
    )
    borrowed = [name for name, life in ages.lives.items() if "as the original" in life.note]
    as_original = (
        "Few genuine renewed parts have failed; taken to live as the originals do, on one curve "
        f"with them: {', '.join(borrowed)}."
    )
    return (
        *((formless,) if smoothed else ()),
        *((as_original,) if borrowed else ()),
        *(f"Not known: {why}." for why in ages.unknown),
    )


def leaves_it(told: UncertainRenewalAdvice) -> bool:
    """Whether the part is left: no age pays, or none that is worth naming."""
    return math.isinf(told.advice.age_years) or told.advice.saving < WORTH_IT


def flat_words(advice: RenewalAdvice) -> str:
    """The ages that cost nearly the same: "anything between 9 and 12 years costs within 5 %"."""
    within = f"costs within {percent(advice.flat_share)}"
    low, high = advice.flat_from_years, advice.flat_until_years
    if math.isinf(high):
        return f"anything from {low:.0f} years on, or none, {within}"
    return f"anything between {low:.0f} and {high:.0f} years {within}"


def right_to_renew(told: UncertainRenewalAdvice) -> float:
    """Chance that renewing early is right: at the advised age, or at any where it is left."""
    if leaves_it(told) or told.probability_saves is None:
        return told.probability_worth(WORTH_IT)
    return told.probability_saves


def _typed_age(component: Component, ages: RenewalAges) -> dict[str, Any]:
    told = ages.told[component.name]
    advice = told.advice
    return {
        "component": component.name,
        "renew_at_years": advice.age_years,
        "renew_at_lower_years": told.age_lower,
        "renew_at_upper_years": told.age_upper,
        "flat_from_years": advice.flat_from_years,
        "flat_until_years": advice.flat_until_years,
        "cost_per_year_net": advice.cost_rate,
        "cost_lower_net": told.cost_rate_lower,
        "cost_upper_net": told.cost_rate_upper,
        "run_to_failure_per_year_net": advice.run_to_failure_rate,
        "saving_share": advice.saving,
        "saving_lower_share": told.saving_lower,
        "saving_upper_share": told.saving_upper,
        "probability_saves": told.probability_saves,
        "probability_early_is_right": right_to_renew(told),
        "planned_cost_net": advice.planned_cost,
        "failure_cost_net": advice.failure_cost,
        "failures": ages.lives[component.name].failures,
        "curve": ages.lives[component.name].form,
        "reason": advice.reason,
        "safety": component.safety,
    }


def _people_age(component: Component, ages: RenewalAges, currency: str) -> dict[str, str]:
    told, too_few = ages.told[component.name], ages.lives[component.name].too_few
    if too_few:
        cost = f"{money(told.cost_rate_lower, currency)} to {money(told.cost_rate_upper, currency)}"
        when = "a safety part: by inspection" if component.safety else too_few
        return {"component": component.name, "renew at": when, "cost a year": cost}
    advice, left = told.advice, leaves_it(told)
    best = "run to failure" if left else f"{advice.age_years:.1f} years"
    when = best if not component.safety else "a safety part: by inspection"
    flat = "" if left else flat_words(advice)
    if component.safety and not left:
        flat = f"money alone: {best}; {flat}"
    saving = f"{percent(told.saving_lower)} to {percent(told.saving_upper)}"
    values = (
        component.name,
        when,
        flat,
        money(advice.cost_rate, currency),
        money(advice.run_to_failure_rate, currency),
        "none" if left else f"{percent(advice.saving)} ({saving})",
        simulated_chance(right_to_renew(told), draws=told.rates.size),
    )
    return dict(zip(PEOPLE_COLUMNS, values, strict=True))


PEOPLE_COLUMNS = dict.fromkeys(
    (
        "component", "renew at", "how exact", "cost a year", "if left until it fails",
        "saving (interval)", "chance that renewing early is right",
    ),
    pl.String,
)  # fmt: skip
