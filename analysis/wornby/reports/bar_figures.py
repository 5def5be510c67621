"""Lists as bars on their side: what jobs cost and are asked for, and failures to expect."""

from __future__ import annotations

import polars as pl

from wornby.errors import EstimateError
from wornby.reports.amounts import money
from wornby.reports.answer import ALL, Answer
from wornby.reports.figures import (
    BAND,
    FAILURE,
    FITTED,
    INK,
    SMALL,
    Drawing,
    bar_rows,
    drawn,
    in_our_style,
)
from wornby.reports.shown_text import label


def draw_prices(priced: Answer, *, currency: str) -> Drawing:
    """Each job's cost, nine jobs in ten, with the floor price and the one now asked."""
    rows = priced.frame.filter(pl.col("floor_price_net").is_not_null()).to_dicts()
    if not rows:
        raise EstimateError("no job has a floor price to draw")
    with in_our_style():
        panel = bar_rows([row["job"] for row in rows])
        for y, row in enumerate(rows):
            panel.plot(
                [row["cost_lower_net"], row["cost_upper_net"]], [y, y], color=BAND, linewidth=8,
                solid_capstyle="butt",
            )  # fmt: skip
            panel.plot(row["cost_mean_net"], y, marker="|", color=FAILURE, markersize=11, mew=2)
            panel.plot(row["floor_price_net"], y, marker="D", color=FITTED, markersize=6.5)
            panel.plot(row["present_price_net"], y, marker="o", mfc="white", mec=INK, markersize=7)
        panel.set_xlim(left=0)
        panel.xaxis.set_major_formatter(lambda at, _: money(at, currency))
        panel.set_xlabel("before tax")
        told = [
            f"{label(r['job'])}: costs {money(r['cost_lower_net'], currency)} to "
            f"{money(r['cost_upper_net'], currency)}, floor price "
            f"{money(r['floor_price_net'], currency)}, now "
            f"{money(r['present_price_net'], currency)}."
            for r in rows
        ]
        return drawn(
            panel,
            "Cost and price of each job. " + " ".join(told),
            legend="Bar: cost of nine jobs in ten. Upright stroke: mean cost. Diamond: floor "
            "price. Hollow circle: what is asked now.",
        )


def draw_expected(expected: Answer) -> Drawing:
    """Failures to expect of each component, with the interval."""
    by_component = expected.frame.filter(pl.col("component") != ALL)
    known = by_component.filter(pl.col("expected_failures").is_not_null())
    if known.is_empty():
        raise EstimateError("of no component are failures to expect known: nothing to draw")
    ordered = known.sort("expected_failures", descending=True).to_dicts()
    with in_our_style():
        panel = bar_rows([row["component"] for row in ordered], inches_a_row=0.38)
        for y, row in enumerate(ordered):
            panel.plot(
                [row["lower"], row["upper"]], [y, y], color=BAND, linewidth=6,
                solid_capstyle="butt",
            )  # fmt: skip
            panel.plot(row["expected_failures"], y, marker="o", color=FAILURE, markersize=6)
            panel.annotate(
                f"{row['expected_failures']:.0f}", (row["upper"], y), xytext=(5, 0),
                textcoords="offset points", va="center", fontsize=SMALL,
            )  # fmt: skip
        panel.set_xlim(left=0)
        panel.set_xlabel("failures in the next 12 months")
        told = [
            f"{label(r['component'])} {r['expected_failures']:.0f} ({r['lower']} to {r['upper']})"
            for r in ordered
        ]
        return drawn(
            panel,
            "Failures to expect in the next 12 months: " + "; ".join(told) + ".",
            legend="Dot and number: failures to expect. Bar: the range that they fall in with "
            "nine chances in ten.",
        )
