"""Answers on stock: which parts to keep on the shelf, and how many."""

from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.decisions.demand import share_of
from wornby.decisions.stock import StockAdvice, stock_advice
from wornby.errors import EstimateError, RecordError
from wornby.histories.counts import DAYS_PER_YEAR
from wornby.progress import each
from wornby.records.catalogue import Catalogue, Component, StockRules
from wornby.reports.amounts import money, percent
from wornby.reports.answer import ALL, Answer
from wornby.reports.forecasts import YEARS_BACK, Forecast, forecast
from wornby.reports.sentences import cautions_for
from wornby.reports.workshop import Workshop


def stock_answer(workshop: Workshop) -> Answer:
    """How many of each part and grade to keep: for the service level, and at least cost."""
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
    rows.sort(key=lambda row: -row["demand_per_year"])
    kept = [catalogue.component(name) for name in {row["component"] for row in rows}]
    rows.append(_total(rows))
    return Answer(
        "Parts to keep on the shelf",
        pl.DataFrame([_people(row, catalogue.currency) for row in rows]),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            *_notes(rules, catalogue.currency),
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


def _of_component(
    workshop: Workshop, component: Component, rules: StockRules
) -> list[dict[str, Any]]:
    """A row for each grade that was fitted of late, has a lead time and a cost."""
    ahead: dict[float, Forecast] = {}
    rows = []
    for grade, days in rules.lead_time_days.items():
        if grade not in component.part_cost_net:
            continue
        if days not in ahead:
            ahead[days] = forecast(workshop, component, horizon_years=days / DAYS_PER_YEAR)
        past = ahead[days].past
        fitted = past.by_grade.get(grade, 0)
        if not fitted:
            continue
        others = sum(past.by_grade.values()) - fitted
        chances = share_of(ahead[days].parts, taken=fitted, others=others).chances
        advice = stock_advice(
            chances,
            lead_time_years=days / DAYS_PER_YEAR,
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
        "component": row["component"],
        "grade": row["grade"],
        "keep, least cost": str(row["least_cost"]),
        "money on the shelf": money(row["money_in_stock_net"], currency),
        "used a year": f"{row['demand_per_year']:.1f}",
        "days to get": "" if days is None else f"{days:g}",
        "finds its part": "" if chance is None else percent(chance),
        "cost a year": money(row["least_cost_per_year_net"], currency),
        "a year if none is kept": money(row["none_cost_per_year_net"], currency),
        "keep, service level": str(row["for_service_level"]),
        "cost a year at that level": money(row["service_level_cost_per_year_net"], currency),
    }


def _notes(rules: StockRules, currency: str) -> tuple[str, ...]:
    return (
        "Each part used is ordered again at once. Demand within the days an order takes: failures "
        "expected from the vehicles in the book and what is fitted besides, shared among grades "
        f"as in the last {YEARS_BACK} years, with the doubt about all three. Failures are spread "
        "evenly: a busy season takes more.",
        f"The service level of {percent(rules.service_level)} is the chance that a job finds its "
        "part on the shelf. Least cost weighs holding, "
        f"{percent(rules.holding_rate_per_year)} of a part's cost a year, against "
        f"{money(rules.stock_out_cost_net, currency)} for each job that waits, as workshop.toml "
        "says; keeping none is priced beside it, as if every job came unannounced and waited. "
        "Where you book ahead and order for the booking, keep less than the table says. Parts "
        "with a shelf life are not told apart.",
    )
