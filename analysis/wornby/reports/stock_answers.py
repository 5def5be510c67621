"""Answers on stock: which parts to keep on the shelf, and how many."""

from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.decisions.demand import evenly_within, share_of
from wornby.decisions.stock import StockAdvice, stock_advice
from wornby.errors import EstimateError, RecordError
from wornby.histories.counts import DAYS_PER_YEAR
from wornby.progress import each
from wornby.records.catalogue import Catalogue, Component, StockRules
from wornby.reports.amounts import money, percent
from wornby.reports.answer import ALL, Answer
from wornby.reports.comparison_answers import grades_that_fail_sooner
from wornby.reports.forecasts import YEARS_BACK, forecast
from wornby.reports.sentences import cautions_for
from wornby.reports.workshop import Workshop


def stock_answer(workshop: Workshop) -> Answer:
    """How many of each part and grade to keep: for the service level, and at least cost.

    A grade that fails sooner than the component's others, by `grade_answer`, is marked.
    """
    rules, catalogue = stock_rules(workshop.catalogue), workshop.catalogue
    rows, unknown = [], []
    for component in each(list(catalogue.components.values()), "stock"):
        try:
            rows += _of_component(workshop, component, rules)
        except EstimateError as error:
            unknown.append(str(error))
    if not rows:
        raise EstimateError(
            "no component has a forecast and a part_cost_net for a grade that was fitted and has "
            f"a lead time: {'; '.join(unknown) or 'nothing to keep'}"
        )
    sooner, untold = _fail_sooner(workshop)
    rows = [row | _marked(sooner.get((row["component"], row["grade"]))) for row in rows]
    rows.sort(key=lambda row: -row["demand_per_year"])
    kept = [catalogue.component(name) for name in {row["component"] for row in rows}]
    rows.append(_total(rows))
    return Answer(
        "Parts to keep on the shelf",
        pl.DataFrame([_people(row, catalogue.currency) for row in rows]),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            *_notes(rules, rows[-1], catalogue.currency),
            *untold,
            *(f"Not known: {why}." for why in unknown),
            *cautions_for(kept),
        ),
    )


def stock_rules(catalogue: Catalogue) -> StockRules:
    """What workshop.toml says of lead times and costs; nothing is assumed in their place."""
    if catalogue.stock is None:
        raise RecordError(
            "workshop.toml: no [stock]; add lead_time_days by part grade, service_level, "
            "holding_rate_per_year and stock_out_cost_net"
        )
    return catalogue.stock


def _fail_sooner(workshop: Workshop) -> tuple[dict[tuple[str, str], str], tuple[str, ...]]:
    """Which grades fail sooner than the others, and what is said where that is not known."""
    try:
        return grades_that_fail_sooner(workshop), ()
    except EstimateError as error:
        return {}, (f"Not known whether a grade fails sooner than the others: {error}.",)


def _marked(how_sure: str | None) -> dict[str, Any]:
    return {"fails_sooner": how_sure is not None, "how_sure": how_sure or ""}


def _of_component(
    workshop: Workshop, component: Component, rules: StockRules
) -> list[dict[str, Any]]:
    """A row for each grade that was fitted of late, has a lead time and a cost."""
    span = max([1.0, *(days / DAYS_PER_YEAR for days in rules.lead_time_days.values())])
    ahead = forecast(workshop, component, horizon_years=span)
    fitted_by_grade = ahead.past.by_grade
    rows = []
    for grade, days in rules.lead_time_days.items():
        fitted = fitted_by_grade.get(grade, 0)
        if grade not in component.part_cost_net or not fitted:
            continue
        lead_time_years = days / DAYS_PER_YEAR
        within = evenly_within(ahead.parts, time_share=lead_time_years / span)
        others = sum(fitted_by_grade.values()) - fitted
        chances = share_of(within, taken=fitted, others=others, ways=len(fitted_by_grade)).chances
        advice = stock_advice(
            chances,
            lead_time_years=lead_time_years,
            service_level=rules.service_level,
            holding_per_part_year_net=rules.holding_rate_per_year * component.part_cost_net[grade],
            stock_out_cost_net=rules.stock_out_cost_net,
        )
        asked_for = _asked_for(chances, workshop.confidence)
        row = _typed(component, grade, days, advice)
        rows.append(row | asked_for | {"fitted_of_late": fitted})
    return rows


def _asked_for(chances: NDArray[np.float64], confidence: float) -> dict[str, int]:
    """How many are asked for while an order takes its days, at least and at most."""
    tail, upto = (1 - confidence) / 2, np.cumsum(chances)
    lower, upper = np.searchsorted(upto, [tail, 1 - tail])
    return {"asked_for_lower": int(lower), "asked_for_upper": int(upper)}


def _typed(component: Component, grade: str, days: float, advice: StockAdvice) -> dict[str, Any]:
    best = advice.table.row(advice.least_cost, named=True)
    level = advice.table.row(advice.for_service_level, named=True)
    price = component.part_cost_net[grade]
    return {
        "component": component.name,
        "grade": grade,
        "lead_time_days": days,
        "demand_per_year": advice.demand_per_year,
        "part_cost_net": price,
        "for_service_level": advice.for_service_level,
        "service_level_in_stock_chance": level["in_stock_chance"],
        "service_level_cost_per_year_net": level["cost_per_year_net"],
        "least_cost": advice.least_cost,
        "least_cost_in_stock_chance": best["in_stock_chance"],
        "least_cost_stock_outs_per_year": best["stock_outs_per_year"],
        "least_cost_per_year_net": best["cost_per_year_net"],
        "none_cost_per_year_net": advice.cost_of(0),
        "money_in_stock_net": advice.least_cost * price,
        "service_level_money_in_stock_net": advice.for_service_level * price,
    }


def _total(rows: list[dict[str, Any]]) -> dict[str, Any]:
    summed = (
        "demand_per_year", "for_service_level", "service_level_cost_per_year_net", "least_cost",
        "least_cost_stock_outs_per_year", "least_cost_per_year_net", "none_cost_per_year_net",
        "money_in_stock_net", "service_level_money_in_stock_net",
    )  # fmt: skip
    return {"component": ALL, "grade": ""} | {key: sum(row[key] for row in rows) for key in summed}


def _people(row: dict[str, Any], currency: str) -> dict[str, str]:
    days, chance = row.get("lead_time_days"), row.get("least_cost_in_stock_chance")
    return {
        "part, grade": ", ".join(name for name in (row["component"], row["grade"]) if name),
        "keep": str(row["least_cost"]),
        "beware": _beware(row),
        "money on the shelf": money(row["money_in_stock_net"], currency),
        "used a year": f"{row['demand_per_year']:.1f}",
        "days to get": "" if days is None else f"{days:g}",
        "finds its part": "" if chance is None else percent(chance),
        "cost a year": money(row["least_cost_per_year_net"], currency),
        "a year if none is kept": money(row["none_cost_per_year_net"], currency),
    }


def _beware(row: dict[str, Any]) -> str:
    return "fails sooner: keep another grade" if row.get("fails_sooner") else ""


def _notes(rules: StockRules, total: dict[str, Any], currency: str) -> tuple[str, ...]:
    return (
        "Each part used is ordered again at once. Demand within the days an order takes is its "
        "share of the parts to fit in the next year, those that failures of the vehicles in the "
        "book take and what is fitted besides, shared among grades as in the last "
        f"{YEARS_BACK} years, with the doubt about all three. A year's parts are spread evenly: "
        "a busy season takes more.",
        "How many to keep is what costs least. It weighs holding, "
        f"{percent(rules.holding_rate_per_year)} of a part's cost a year, against "
        f"{money(rules.stock_out_cost_net, currency)} for each job that waits, as workshop.toml "
        "says; keeping none is priced beside it, as if every job came unannounced and waited. "
        "Where you book ahead and order for the booking, keep less than the table says. Parts "
        "with a shelf life are not told apart.",
        f"For a chance of {percent(rules.service_level)} that a job finds its part, the service "
        f"level in workshop.toml, keep {total['for_service_level']} in all instead, which cost "
        f"{money(total['service_level_cost_per_year_net'], currency)} a year.",
    )
