"""A picture of one job's price: what the job may cost, and what each price would earn in a year.

The visual language is that of `figures`: what the records say is blue, with a pale band for how
sure it is; the advised price is orange; what is asked now is black. Words stand at what they name.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wornby.decisions.price_question import PricedJob
from wornby.decisions.prices import price_menu
from wornby.reports.amounts import money, percent
from wornby.reports.figures import BAND, FAILURE, FITTED, INK, Drawing, svg_text
from wornby.reports.priced_jobs import candidate, done_by_the_workshop, priced
from wornby.reports.workshop import Workshop

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INCHES = (7.2, 4.6)
BINS = 60
N_PRICES = 40
LEFT, RIGHT = 0.001, 1.12
"""The axis goes from what nearly every job costs to a little past the dearest price."""


def draw_price_ladder(workshop: Workshop, job: str | None = None) -> Drawing:
    """What the job costs, how often, with the floor and today's price; below, a year's profit.

    Without a name it is the first job of workshop.toml.
    """
    from matplotlib.figure import Figure

    told = priced(workshop, candidate(workshop, job), done_by_the_workshop(workshop))
    currency, confidence = workshop.catalogue.currency, workshop.confidence
    figure = Figure(figsize=INCHES, layout="constrained")
    costs, profits = figure.subplots(2, 1, sharex=True, height_ratios=[1.15, 1])
    figure.suptitle(told.job.name, x=0.01, ha="left", fontsize=10, weight="bold", color=INK)
    _draw_costs(costs, told, currency)
    _draw_profits(profits, told, currency, confidence=confidence)
    for panel in (costs, profits):
        _mark_prices(panel, told)
        panel.spines[["top", "right"]].set_visible(False)
        panel.tick_params(labelsize=8)
    profits.xaxis.set_major_formatter(lambda at, _: money(at, currency))
    profits.set_xlabel("price of a job, before tax", fontsize=8)
    return Drawing(svg_text(figure), _words(told, currency))


def _ends(told: PricedJob) -> tuple[float, float]:
    costs = told.advice.costs.job
    dearest = max(told.job.present_price_net, told.advice.price_net, np.quantile(costs, 0.99))
    return float(np.quantile(costs, LEFT)), RIGHT * float(dearest)


def _draw_costs(panel: Axes, told: PricedJob, currency: str) -> None:
    """How often a job costs what; darker where today's price would lose money."""
    costs, asked = told.advice.costs.job, told.job.present_price_net
    edges = np.linspace(*_ends(told), BINS + 1)
    share, _ = np.histogram(costs, edges)
    panel.stairs(share, edges, fill=True, color=BAND, alpha=0.35)
    panel.stairs(share, edges, color=FAILURE, linewidth=1.4)
    lost = np.where(edges[1:] > asked, share, 0)
    panel.stairs(lost, edges, fill=True, color=FAILURE)
    panel.set(yticks=[], xlim=(edges[0], edges[-1]), ylim=(0, share.max() * 1.32))
    panel.spines["left"].set_visible(False)
    panel.set_title("what a job costs the workshop", loc="left", fontsize=8.5, color=INK)
    prices = {told.advice.price_net: ("floor", FITTED), asked: ("asked now", INK)}
    for (price, (name, colour)), side in zip(sorted(prices.items()), (-1, 1), strict=False):
        loss = percent(float((costs > price).mean()))
        panel.annotate(
            f"{name} {money(price, currency)}\nlost on {loss} of jobs",
            (price, share.max() * 1.3), xytext=(5 * side, 0), textcoords="offset points",
            ha="right" if side < 0 else "left", va="top", fontsize=8, color=colour,
        )  # fmt: skip


def _draw_profits(panel: Axes, told: PricedJob, currency: str, *, confidence: float) -> None:
    """Next year's profit at each price, with its band, and the line below which it is a loss."""
    prices = np.linspace(*_ends(told), N_PRICES)
    menu = price_menu(told.advice.costs, prices.tolist(), confidence=confidence)
    panel.fill_between(
        menu["price_net"], menu["year_profit_lower_net"], menu["year_profit_upper_net"],
        color=BAND, alpha=0.35, linewidth=0,
    )  # fmt: skip
    panel.plot(menu["price_net"], menu["year_profit_net"], color=FAILURE, linewidth=1.8)
    panel.axhline(0, color=INK, linewidth=0.8)
    panel.set_title(
        f"profit next year at that price, with its {confidence:.0%} band",
        loc="left", fontsize=8.5, color=INK,
    )  # fmt: skip
    panel.yaxis.set_major_formatter(lambda at, _: money(at, currency))


def _mark_prices(panel: Axes, told: PricedJob) -> None:
    panel.axvline(told.advice.price_net, color=FITTED, linewidth=1.8, linestyle=(0, (5, 2)))
    panel.axvline(told.job.present_price_net, color=INK, linewidth=1.4)


def _words(told: PricedJob, currency: str) -> str:
    advice, asked = told.advice, told.job.present_price_net
    lower, upper = (money(float(q), currency) for q in np.quantile(advice.costs.job, [0.05, 0.95]))
    loss = percent(float((advice.costs.job > asked).mean()))
    return (
        f"{told.job.name}: nine jobs in ten cost {lower} to {upper}; the floor is "
        f"{money(advice.price_net, currency)}, {money(asked, currency)} is asked now and loses "
        f"money on {loss} of jobs."
    )
