"""Pictures of decisions: what each age of renewal costs a year, and how little it may matter."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from wornby.decisions.least_cost_age import UncertainRenewalAdvice
from wornby.reports.amounts import money, percent
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
    axis_number,
    drawn,
    in_our_style,
    panel_alone,
    round_ages,
    titled,
)
from wornby.reports.renewal_answers import flat_words, leaves_it, renewal_ages
from wornby.reports.shown_text import label
from wornby.reports.workshop import Workshop

if TYPE_CHECKING:
    from matplotlib.axes import Axes

HIGHEST = 1.9
"""The cost axis reaches so many times the cost of leaving the part, or of the best age."""
SHOWN_PAST_FLAT = 1.6
FLAT = "#FAE6D8"


def draw_cost_rate(workshop: Workshop) -> Drawings:
    """A panel for each component that pays to renew: cost a year by age, against leaving it.

    The others are named in the legend; where none pays, the one dearest to leave is drawn.
    """
    ages = renewal_ages(workshop)
    dearest = max(ages.told, key=lambda name: ages.told[name].advice.run_to_failure_rate)
    pays = {name: told for name, told in ages.told.items() if not leaves_it(told)}
    shown = pays or {dearest: ages.told[dearest]}
    with in_our_style():
        panels = tuple(_panel(workshop, name, told) for name, told in shown.items())
    return Drawings(panels, legend=_legend(workshop, [n for n in ages.told if n not in shown]))


def _legend(workshop: Workshop, left_out: list[str]) -> str:
    told = (
        f"Line and {percent(workshop.confidence)} band: cost a year of a part renewed at that "
        "age. Dashed: left until it fails. Shaded: within 5\u00a0% of the best age, the dot."
    )
    if not left_out:
        return told
    return f"{told} Not drawn, for no age costs less than leaving it: {', '.join(left_out)}."


def _panel(workshop: Workshop, name: str, told: UncertainRenewalAdvice) -> Drawing:
    panel, currency = panel_alone(), workshop.catalogue.currency
    safety = workshop.catalogue.components[name].safety
    _curve(panel, told, currency)
    titled(panel, name)
    if safety:
        panel.text(
            0.99, 0.99, "a safety part: by inspection", transform=panel.transAxes, ha="right",
            va="top", fontsize=SMALL,
        )  # fmt: skip
    by_look = " A safety part: by inspection, not by money." if safety else ""
    return drawn(panel, f"Cost a year by age of renewal. {_words(name, told, currency)}{by_look}")


def _curve(panel: Axes, told: UncertainRenewalAdvice, currency: str) -> None:
    advice, left = told.advice, leaves_it(told)
    last = _last_age(told)
    top = HIGHEST * max(advice.run_to_failure_rate, advice.cost_rate)
    table = told.table.filter(told.table["age_years"] <= last)
    age = table["age_years"].to_numpy()
    panel.fill_between(
        age, table["lower_net"], table["upper_net"], color=BAND, alpha=BAND_STRENGTH, linewidth=0
    )
    panel.plot(age, table["cost_per_year_net"], color=FAILURE, linewidth=1.8)
    panel.axhline(advice.run_to_failure_rate, color=INK, linestyle=DASHED, linewidth=1.2)
    if not left:
        until = min(advice.flat_until_years, last)
        panel.axvspan(advice.flat_from_years, until, color=FLAT, linewidth=0, zorder=0)
        panel.plot(advice.age_years, advice.cost_rate, "o", color=FITTED, markersize=6)
    panel.set(xlim=(0, last), ylim=(0, top))
    _name_lines(panel, told, currency=currency, last=last)
    panel.set_xticks(round_ages(last))
    panel.xaxis.set_major_formatter(lambda at, _: axis_number(at, "years"))
    panel.yaxis.set_major_formatter(lambda cost, _: money(cost, currency))
    panel.set_yticks(round_ages(top))
    panel.set_xlabel("renewed at, years")


def _name_lines(panel: Axes, told: UncertainRenewalAdvice, *, currency: str, last: float) -> None:
    """The words on the lines: what leaving costs, and what the best age does."""
    advice, left = told.advice, leaves_it(told)
    above = -12 if left else 3 if advice.saving > 0.2 else 14
    panel.annotate(
        f"left: {money(advice.run_to_failure_rate, currency)}",
        (last, advice.run_to_failure_rate), xytext=(-2, above), textcoords="offset points",
        ha="right", fontsize=SMALL,
    )  # fmt: skip
    if left:
        return
    panel.annotate(
        f"{advice.age_years:.1f} years: {money(advice.cost_rate, currency)}",
        (advice.age_years, advice.cost_rate), xytext=(0, -6), textcoords="offset points",
        ha="center", va="top", fontsize=SMALL, weight="bold",
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
        return f"{label(name)}: no age costs less than leaving it, {cost}."
    return (
        f"{label(name)}: least at {advice.age_years:.1f} years, "
        f"{money(advice.cost_rate, currency)}; {flat_words(advice)}; left until it fails {cost}."
    )
