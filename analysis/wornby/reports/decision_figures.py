"""Pictures of decisions: what each age of renewal costs a year, and how little it may matter.

The visual language is that of `figures`: a dark line with a pale band is what the records say and
how sure that is; what is advised is orange; words stand on the lines they name.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from wornby.decisions.least_cost_age import UncertainRenewalAdvice
from wornby.reports.amounts import money
from wornby.reports.figures import (
    BAND,
    FAILURE,
    FITTED,
    INK,
    Drawing,
    axis_number,
    round_ages,
    svg_text,
)
from wornby.reports.renewal_answers import flat_words, leaves_it, renewal_ages
from wornby.reports.workshop import Workshop

if TYPE_CHECKING:
    from matplotlib.axes import Axes

COLUMNS = 2
PANEL_INCHES = (3.3, 2.7)
HIGHEST = 1.9
"""The cost axis reaches so many times the cost of leaving the part, or of the best age."""
SHOWN_PAST_FLAT = 1.6
FLAT = "#FAE6D8"


def draw_cost_rate(workshop: Workshop) -> Drawing:
    """A panel for each component that pays to renew: cost a year by age, against leaving it.

    The others are named in the words; where none pays, the one that is dearest to leave is drawn.
    """
    from matplotlib.figure import Figure

    ages, currency = renewal_ages(workshop), workshop.catalogue.currency
    dearest = max(ages.told, key=lambda name: ages.told[name].advice.run_to_failure_rate)
    pays = {name: told for name, told in ages.told.items() if not leaves_it(told)}
    drawn = pays or {dearest: ages.told[dearest]}
    n_rows = -(-len(drawn) // COLUMNS)
    size = (COLUMNS * PANEL_INCHES[0], n_rows * PANEL_INCHES[1] + 0.3)
    figure = Figure(figsize=size, layout="constrained")
    figure.suptitle(
        f"line and {workshop.confidence:.0%} band: cost a year when renewed at that age\n"
        "dashed: left until it fails    shaded: within 5 % of the best age, ●",
        x=0.01, ha="left", fontsize=8.5, color=INK,
    )  # fmt: skip
    panels = figure.subplots(n_rows, COLUMNS, squeeze=False).ravel()
    for panel, (name, told) in zip(panels, drawn.items(), strict=False):
        _panel(panel, name, told, currency)
        if workshop.catalogue.components[name].safety:
            panel.text(
                0.99, 0.99, "a safety part: by inspection", transform=panel.transAxes,
                ha="right", va="top", fontsize=8.5, color=INK,
            )  # fmt: skip
    for panel in panels[len(drawn) :]:
        panel.set_visible(False)
    said = [_words(name, told, currency) for name, told in ages.told.items()]
    return Drawing(svg_text(figure), "Cost a year by age of renewal. " + " ".join(said))


def _panel(panel: Axes, name: str, told: UncertainRenewalAdvice, currency: str) -> None:
    advice, left = told.advice, leaves_it(told)
    last = _last_age(told)
    top = HIGHEST * max(advice.run_to_failure_rate, advice.cost_rate)
    table = told.table.filter(told.table["age_years"] <= last)
    age = table["age_years"].to_numpy()
    panel.fill_between(
        age, table["lower_net"], table["upper_net"], color=BAND, alpha=0.35, linewidth=0
    )
    panel.plot(age, table["cost_per_year_net"], color=FAILURE, linewidth=1.8)
    panel.axhline(advice.run_to_failure_rate, color=INK, linestyle=(0, (5, 2)), linewidth=1.2)
    if not left:
        until = min(advice.flat_until_years, last)
        panel.axvspan(advice.flat_from_years, until, color=FLAT, linewidth=0, zorder=0)
        panel.plot(advice.age_years, advice.cost_rate, "o", color=FITTED, markersize=6)
    panel.set(xlim=(0, last), ylim=(0, top))
    _name_lines(panel, told, currency=currency, last=last)
    panel.set_title(name, loc="left", fontsize=10, color=INK, weight="bold")
    panel.set_xticks(round_ages(last))
    panel.xaxis.set_major_formatter(lambda at, _: axis_number(at, "years"))
    panel.yaxis.set_major_formatter(lambda cost, _: money(cost, currency))
    panel.set_yticks(round_ages(top))
    panel.set_xlabel("renewed at, years", fontsize=8.5)
    panel.tick_params(labelsize=8.5)
    panel.spines[["top", "right"]].set_visible(False)


def _name_lines(panel: Axes, told: UncertainRenewalAdvice, *, currency: str, last: float) -> None:
    """The words on the lines: what leaving costs, and what the best age does."""
    advice, left = told.advice, leaves_it(told)
    above = -12 if left else 3 if advice.saving > 0.2 else 14
    panel.annotate(
        f"left: {money(advice.run_to_failure_rate, currency)}",
        (last, advice.run_to_failure_rate), xytext=(-2, above), textcoords="offset points",
        ha="right", fontsize=8.5, color=INK,
    )  # fmt: skip
    if left:
        return
    panel.annotate(
        f"{advice.age_years:.0f} years: {money(advice.cost_rate, currency)}",
        (advice.age_years, advice.cost_rate), xytext=(0, -6), textcoords="offset points",
        ha="center", va="top", fontsize=8.5, color=INK, weight="bold",
    )  # fmt: skip


def _last_age(told: UncertainRenewalAdvice) -> float:
    """How far the age axis goes: well past what is advised, or to where leaving is as cheap."""
    advice = told.advice
    if not leaves_it(told):
        ends = (advice.flat_until_years, 2 * advice.age_years)
        return SHOWN_PAST_FLAT * min(end for end in ends if math.isfinite(end))
    table = told.table
    rate = table["cost_per_year_net"].to_numpy()
    near = np.flatnonzero(rate <= 1.05 * advice.run_to_failure_rate)
    return 1.3 * float(table["age_years"][int(near[0]) if near.size else -1])


def _words(name: str, told: UncertainRenewalAdvice, currency: str) -> str:
    advice = told.advice
    cost = money(advice.run_to_failure_rate, currency)
    if leaves_it(told):
        return f"{name}: no age costs less than leaving it, {cost}."
    return (
        f"{name}: least at {advice.age_years:.0f} years, {money(advice.cost_rate, currency)}; "
        f"{flat_words(advice)}; left until it fails {cost}."
    )
