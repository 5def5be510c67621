"""Demand month by month: what came in the last years, and what to expect with its interval."""

from __future__ import annotations

import numpy as np
import polars as pl

from wornby.reports.amounts import percent
from wornby.reports.answer import Answer
from wornby.reports.figures import (
    BAND,
    BAND_STRENGTH,
    FAILURE,
    INK,
    SMALL,
    WIDE_INCHES,
    Drawing,
    drawn,
    in_our_style,
    panel_alone,
    round_ages,
)

BEFORE = "years_before"
HEIGHT = 2.6


def draw_demand(answer: Answer) -> Drawing:
    """The failures of each past month as thin bars, and each month ahead with its interval."""
    months = answer.frame
    earlier = sorted((n for n in months.columns if n.endswith(BEFORE)), reverse=True)
    past = np.concatenate([months[name].to_numpy() for name in earlier])
    ahead = months["month"].to_numpy() - 0.5
    with in_our_style():
        panel = panel_alone(width=WIDE_INCHES, height=HEIGHT)
        panel.grid(axis="y")
        panel.set_axisbelow(True)
        panel.bar(np.arange(-len(past), 0) + 0.5, past, width=0.55, color=FAILURE)
        panel.fill_between(
            ahead, months["lower"], months["upper"], color=BAND, alpha=BAND_STRENGTH, linewidth=0
        )
        panel.plot(ahead, months["expected"], "o-", color=FAILURE, markersize=3.5, linewidth=1.2)
        panel.axvline(0, color=INK, linewidth=0.8)
        panel.annotate(
            "records close", (0, 1), xycoords=("data", "axes fraction"), xytext=(-3, 2),
            textcoords="offset points", ha="right", fontsize=SMALL,
        )  # fmt: skip
        panel.annotate(
            "to come", (0, 1), xycoords=("data", "axes fraction"), xytext=(3, 2),
            textcoords="offset points", fontsize=SMALL,
        )  # fmt: skip
        top = max(float(past.max()), float(months["upper"].max()))  # type: ignore[arg-type]  # counts
        panel.set(xlim=(-len(past), len(ahead)), ylim=(0, 1.05 * top))
        panel.set_yticks(round_ages(top))
        years = range(-len(earlier), 2)
        panel.set_xticks([12 * n for n in years], [_year(months, n) for n in years])
        panel.set_ylabel("failures a month")
        return drawn(
            panel,
            _words(months, past, begins=answer.people["month from"][0]),
            legend=_legend(months),
        )


def _year(months: pl.DataFrame, n: int) -> str:
    """What stands under the axis where a year begins."""
    begins = months["begins_on"][0]
    return f"{begins:%b} {begins.year + n}"


def _words(
    months: pl.DataFrame, past: np.ndarray[tuple[int], np.dtype[np.int64]], *, begins: str
) -> str:
    first, last = months.row(0, named=True), months.row(-1, named=True)
    return (
        f"Failures a month. In the {len(past)} months before the records close, {past.min()} to "
        f"{past.max()} came in, {past.mean():.0f} on average. To expect: {first['expected']:.0f} "
        f"({first['lower']} to {first['upper']}) in the month from {begins}, "
        f"{last['expected']:.0f} ({last['lower']} to {last['upper']}) in the last of the twelve."
    )


def _legend(months: pl.DataFrame) -> str:
    return (
        "Bars: failures that came in, month by month. Line with dots: failures to expect from the "
        f"vehicles in the book; band: {percent(months['confidence'][0])} of the chances."
    )
