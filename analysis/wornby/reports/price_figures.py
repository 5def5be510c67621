"""Pictures of one job's price: what the job may cost, and what each price would earn in a year."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wornby.decisions.price_question import PricedJob
from wornby.decisions.prices import price_menu
from wornby.reports.amounts import money, percent, simulated_chance
from wornby.reports.figures import (
    BAND,
    BAND_STRENGTH,
    DASHED,
    FAILURE,
    FITTED,
    INK,
    SMALL,
    Drawing,
    Drawings,
    drawn,
    in_our_style,
    panel_alone,
    titled,
)
from wornby.reports.priced_jobs import candidate, done_by_the_workshop, priced
from wornby.reports.shown_text import label
from wornby.reports.workshop import Workshop

if TYPE_CHECKING:
    from matplotlib.axes import Axes

BINS = 60
N_PRICES = 40
LEFT, RIGHT = 0.001, 1.12
"""The axis goes from what nearly every job costs to a little past the dearest price."""


def draw_price_ladder(workshop: Workshop, job: str | None = None) -> Drawings:
    """What the job costs, how often, with the floor and today's price; beside it a year's profit.

    Without a name it is the first job of workshop.toml.
    """
    told = priced(workshop, candidate(workshop, job), done_by_the_workshop(workshop))
    currency, confidence = workshop.catalogue.currency, workshop.confidence
    with in_our_style():
        panels = (
            _draw_costs(told, currency),
            _draw_profits(told, currency, confidence=confidence),
        )
    return Drawings(
        panels,
        legend=f"{told.job.name}. Cost: how often a job costs what, dark where the price asked now "
        "loses money. Profit: of next year at each price, with its "
        f"{percent(confidence)} band. Dashed: the floor price; full upright line: asked now.",
    )


def _ends(told: PricedJob) -> tuple[float, float]:
    costs = told.advice.costs.job
    dearest = max(told.job.present_price_net, told.advice.price_net, np.quantile(costs, 0.99))
    return float(np.quantile(costs, LEFT)), RIGHT * float(dearest)


def _draw_costs(told: PricedJob, currency: str) -> Drawing:
    """How often a job costs what; darker where today's price would lose money."""
    panel = panel_alone()
    titled(panel, "Cost of a job")
    costs, asked = told.advice.costs.job, told.job.present_price_net
    edges = np.linspace(*_ends(told), BINS + 1)
    share, _ = np.histogram(costs, edges)
    panel.stairs(share, edges, fill=True, color=BAND, alpha=BAND_STRENGTH)
    panel.stairs(share, edges, color=FAILURE, linewidth=1.4)
    lost = np.where(edges[1:] > asked, share, 0)
    panel.stairs(lost, edges, fill=True, color=FAILURE)
    panel.set(yticks=[], xlim=(edges[0], edges[-1]), ylim=(0, share.max() * 1.32))
    panel.spines["left"].set_visible(False)
    prices = {told.advice.price_net: ("floor", FITTED), asked: ("asked now", INK)}
    for line, (price, (name, colour)) in enumerate(sorted(prices.items())):
        loss = simulated_chance(float((costs > price).mean()), draws=costs.size)
        panel.annotate(
            f"{name} {money(price, currency)}: lost on {loss} of jobs",
            (0, 1), xycoords="axes fraction", xytext=(0, -12 * line), textcoords="offset points",
            va="top", fontsize=SMALL, color=colour,
            zorder=5, bbox={"facecolor": "white", "edgecolor": "none", "pad": 2.5},
        )  # fmt: skip
    _mark_prices(panel, told, currency)
    return drawn(panel, _words(told, currency))


def _draw_profits(told: PricedJob, currency: str, *, confidence: float) -> Drawing:
    """Next year's profit at each price, with its band, and the line below which it is a loss."""
    panel = panel_alone()
    titled(panel, "Profit next year")
    prices = np.linspace(*_ends(told), N_PRICES)
    menu = price_menu(told.advice.costs, prices.tolist(), confidence=confidence)
    panel.fill_between(
        menu["price_net"], menu["year_profit_lower_net"], menu["year_profit_upper_net"],
        color=BAND, alpha=BAND_STRENGTH, linewidth=0,
    )  # fmt: skip
    panel.plot(menu["price_net"], menu["year_profit_net"], color=FAILURE, linewidth=1.8)
    panel.axhline(0, color=INK, linewidth=0.8)
    panel.yaxis.set_major_formatter(lambda at, _: money(at, currency))
    panel.set_xlim(*_ends(told))
    _mark_prices(panel, told, currency)
    at_floor, at_asked = (
        money(float(np.interp(price, menu["price_net"], menu["year_profit_net"])), currency)
        for price in (told.advice.price_net, told.job.present_price_net)
    )
    return drawn(
        panel,
        f"{label(told.job.name)}: profit of next year {at_floor} at the floor price, {at_asked} "
        "at the price asked now.",
    )


def _mark_prices(panel: Axes, told: PricedJob, currency: str) -> None:
    panel.axvline(told.advice.price_net, color=FITTED, linewidth=1.8, linestyle=DASHED)
    panel.axvline(told.job.present_price_net, color=INK, linewidth=1.4)
    panel.xaxis.set_major_formatter(lambda at, _: money(at, currency))
    panel.locator_params(axis="x", nbins=5)
    panel.set_xlabel("price or cost of a job, before tax")


def _words(told: PricedJob, currency: str) -> str:
    advice, asked = told.advice, told.job.present_price_net
    costs = advice.costs.job
    lower, upper = (money(float(q), currency) for q in np.quantile(costs, [0.05, 0.95]))
    loss = simulated_chance(float((costs > asked).mean()), draws=costs.size)
    return (
        f"{label(told.job.name)}: nine jobs in ten cost {lower} to {upper}; the floor is "
        f"{money(advice.price_net, currency)}, {money(asked, currency)} is asked now and loses "
        f"money on {loss} of jobs."
    )
