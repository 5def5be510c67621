"""One job at a ladder of prices: what each earns and risks, and what the job is made of."""

from typing import Any

import numpy as np
import polars as pl

from wornby.decisions.price_question import PricedJob
from wornby.decisions.prices import price_menu
from wornby.decisions.stated_costs import money_of
from wornby.records.catalogue import Catalogue
from wornby.reports.amounts import money, percent, simulated_chance
from wornby.reports.answer import Answer
from wornby.reports.price_answers import exclusions, floor_sentence, reason_of, safety_notes
from wornby.reports.priced_jobs import N_PRICE_DRAWS, candidate, done_by_the_workshop, priced
from wornby.reports.workshop import Workshop

RUNGS = 8
STEPS = (5, 10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 2500, 5000)
ASKED, FLOOR, BARE = "asked now", "floor", "floor, found work charged by itself"


def price_ladder_answer(workshop: Workshop, job: str | None = None) -> Answer:
    """What the job earns and risks at a ladder of prices, the floor and today's price marked.

    Without a name it is the first job of workshop.toml.
    """
    done, catalogue = done_by_the_workshop(workshop), workshop.catalogue
    told = priced(workshop, candidate(workshop, job), done)
    table = price_rungs(told, confidence=workshop.confidence, tax=money_of(catalogue).tax_rate)
    return Answer(
        f"{told.job.name}: {told.advice.verdict}",
        pl.DataFrame([_people_rung(row, catalogue.currency) for row in table.to_dicts()]),
        table,
        (
            f"Why: {reason_of(told)}.",
            *_excluded(told, catalogue),
            f"In brackets: the range of next year's profit with a chance of "
            f"{percent(workshop.confidence)}; that holds the number of jobs, too.",
            *_parts_checked(told, catalogue.currency),
            floor_sentence(catalogue),
            *safety_notes(catalogue, [told.job]),
        ),
    )


def price_rungs(told: PricedJob, *, confidence: float, tax: float) -> pl.DataFrame:
    """The price menu (see `price_menu`) on round rungs, with the gross price and what it is."""
    advice, present = told.advice, told.job.present_price_net
    marks = {
        advice.price_without_found.price_net: BARE,
        advice.price.price_net: FLOOR,
        present: ASKED,
    }
    if advice.price.price_net == present:
        marks[present] = f"{ASKED}, {FLOOR}"
    low = float(np.quantile(advice.costs.job, 0.25))
    menu = price_menu(
        advice.costs, [*marks, *round_prices(low, 1.15 * max(marks))], confidence=confidence
    )
    known = pl.col("price_net").replace_strict(marks, default="", return_dtype=pl.String)
    return menu.select(
        "price_net",
        price_gross=pl.col("price_net") * (1 + tax),
        what=known,
        **{name: pl.col(name) for name in menu.columns if name != "price_net"},
    )


def round_prices(low: float, high: float) -> list[float]:
    """Round prices between two, about eight of them.

    >>> round_prices(318.0, 760.0)
    [350.0, 400.0, 450.0, 500.0, 550.0, 600.0, 650.0, 700.0, 750.0]
    """
    step = next((s for s in STEPS if (high - low) / s <= RUNGS + 1), STEPS[-1])
    return [float(price) for price in np.arange(-(-low // step) * step, high, step)]


def _excluded(told: PricedJob, catalogue: Catalogue) -> list[str]:
    """What an offer with exclusions leaves out."""
    if told.advice.verdict != "offer with stated exclusions":
        return []
    return [
        f"Leave out, and say so in the offer: work found on {exclusions(told.job, catalogue)}. "
        f"The floor is then {money(told.advice.price_net, catalogue.currency)}; the table's "
        "prices hold found work."
    ]


def _parts_checked(told: PricedJob, currency: str) -> list[str]:
    """What to look into where today's parts cost other than those of past jobs."""
    then, now = told.advice.parts_then_net, told.advice.planned.parts_cost_net
    if then is None:
        return []
    fitted, floor = ("less", "high") if now > then else ("more", "low")
    return [
        f"Check: parts for this job are {money(now, currency)} today, past jobs used "
        f"{money(then, currency)} on average. If they fitted {fitted}, the floor is too {floor}."
    ]


def _people_rung(row: dict[str, Any], currency: str) -> dict[str, str]:
    lower, upper = (money(row[f"year_profit_{end}_net"], currency) for end in ("lower", "upper"))
    return {
        "price": money(row["price_net"], currency),
        "with tax": money(row["price_gross"], currency),
        "what it is": row["what"],
        "margin": percent(row["expected_margin_share"])
        if row["expected_margin_share"] > 0
        else f"-{percent(-row['expected_margin_share'])}",
        "chance of a loss on a job": simulated_chance(row["job_loss_chance"], draws=N_PRICE_DRAWS),
        "profit next year": f"{money(row['year_profit_net'], currency)} ({lower} to {upper})",
        "chance of a loss over the year": simulated_chance(
            row["year_loss_chance"], draws=N_PRICE_DRAWS
        ),
    }
