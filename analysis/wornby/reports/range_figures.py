"""Sensitivity as ranges: the same number under each assumption, with its interval."""

from __future__ import annotations

import math
from typing import Any

import polars as pl

from wornby.errors import EstimateError
from wornby.reports.amounts import amount, between
from wornby.reports.answer import Answer
from wornby.reports.figures import (
    BAND,
    FAILURE,
    FITTED,
    INK,
    Drawing,
    axis_number,
    bar_rows,
    drawn,
    in_our_style,
)
from wornby.reports.shown_text import label

IN_FORCE = "in force"
MOST_TIMES = 2.5
"""A range that goes farther than so many times the largest value is cut, with an arrow."""


def draw_ranges(answer: Answer, *, component: str) -> Drawing:
    """One component's B10 life under each observation rule: a bar for the interval, a dot on it.

    `answer` is that of `sensitivity_answer`; the rule in force comes first.
    """
    rows = answer.frame.filter(pl.col("b10_value").is_not_null()).to_dicts()
    if not rows:
        raise EstimateError(f"{component}: no rule gives a B10 life to draw")
    unit = rows[0]["unit"]
    far = MOST_TIMES * max(row["b10_value"] for row in rows)
    with in_our_style():
        panel = bar_rows([row["rule"] for row in rows], inches_a_row=0.38)
        for y, row in enumerate(rows):
            _range(panel, y, row, far)
        panel.axvline(rows[0]["b10_value"], color=INK, linewidth=0.8, zorder=1)
        panel.set_xlim(left=0)
        panel.xaxis.set_major_formatter(lambda at, _: axis_number(at, unit))
        panel.set_xlabel(f"age by which one {label(component)} in ten has failed, {unit}")
        told = [
            f"{label(row['rule'])} {amount(row['b10_value'], unit)} ({_between(row, unit)})"
            for row in rows
        ]
        return drawn(
            panel,
            f"{label(component)}: B10 life in {unit} under each observation rule. "
            + "; ".join(told)
            + ".",
            legend="Dot and bar: value and interval under each rule; diamond and the upright "
            "line: the rule in force. A bar that the line does not cross is a rule that changes "
            "the answer.",
        )


def _range(panel: Any, y: int, row: dict[str, Any], far: float) -> None:
    lower, upper = row["b10_lower"] or 0.0, row["b10_upper"]
    beyond = upper is None or not math.isfinite(upper) or upper > far
    end = far if beyond else upper
    panel.plot([lower, end], [y, y], color=BAND, linewidth=6, solid_capstyle="butt", zorder=2)
    if beyond:
        panel.plot(end, y, marker=">", color=BAND, markersize=8)
    in_force = row["rule"] == IN_FORCE
    look = {"marker": "D", "color": FITTED} if in_force else {"marker": "o", "color": FAILURE}
    panel.plot(row["b10_value"], y, markersize=6, zorder=3, **look)


def _between(row: dict[str, Any], unit: str) -> str:
    lower, upper = row["b10_lower"], row["b10_upper"]
    return between(lower or 0.0, math.inf if upper is None else upper, unit)
