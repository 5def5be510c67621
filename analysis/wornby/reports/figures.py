"""Pictures that a person reads in five seconds, in colour or in grey.

One language throughout: age or distance runs to the right; a failure curve is a dark line with
a pale band, the fitted curve a dashed one, ticks on the line are parts that left the watch
still working, and the numbers still watched stand under the axis. Colours are those of Okabe
& Ito (2008), which colour-blind readers tell apart; lines differ in dash as well as colour.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from wornby.curves.components import ComponentCurve
from wornby.curves.nonparametric import SurvivalCurve
from wornby.errors import EstimateError
from wornby.reports.amounts import amount, money
from wornby.reports.answer import ALL

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FAILURE = "#0072B2"
FITTED = "#D55E00"
BAND = "#56B4E9"
INK = "#222222"
COLUMNS = 2
PANEL_INCHES = (4.6, 3.5)
MOST_AGES = 5
FEWEST_DRAWN = 5
"""The step curve stops where fewer parts are watched: a step there says next to nothing."""


@dataclass(frozen=True, eq=False, slots=True)
class Drawing:
    """A picture with the words for those who cannot see it."""

    svg: str
    alt: str

    def __repr__(self) -> str:
        """The words, which is what a text console and a test can show."""
        return self.alt

    def _repr_html_(self) -> str:
        import base64
        import html

        data = base64.b64encode(self.svg.encode()).decode()
        return (
            f'<img class="drawing" alt="{html.escape(self.alt)}" '
            f'src="data:image/svg+xml;base64,{data}">'
        )


def draw_lives(curves: dict[str, ComponentCurve], *, confidence: float) -> Drawing:
    """A panel for each component: the share still working by age or distance."""
    from matplotlib.figure import Figure

    if not curves:
        raise EstimateError("no component has a curve to draw")
    n_rows = -(-len(curves) // COLUMNS)
    size = (COLUMNS * PANEL_INCHES[0], n_rows * PANEL_INCHES[1])
    figure = Figure(figsize=size, layout="constrained")
    panels = figure.subplots(n_rows, COLUMNS, squeeze=False).ravel()
    told = [
        _life_panel(panel, curve) for panel, curve in zip(panels, curves.values(), strict=False)
    ]
    for panel in panels[len(curves) :]:
        panel.set_visible(False)
    alt = f"Share of parts still working, {confidence:.0%} bands. " + " ".join(told)
    return Drawing(svg_text(figure), alt)


def _life_panel(panel: Axes, curve: ComponentCurve) -> str:
    """One component's curve; returns what the picture says in words."""
    km = curve.nonparametric
    if not isinstance(km, SurvivalCurve) or not km.table.height:
        return _empty_panel(panel, curve)
    last = float(curve.counts.table["lower"].max())  # type: ignore[arg-type]  # never empty here
    _steps(panel, km)
    _fitted_line(panel, curve, begins_at=km.begins_at, last=last)
    _risk_numbers(panel, km, last)
    panel.set(ylim=(0, 1.02), xlim=(0, last * 1.02))
    panel.set_title(curve.component, loc="left", fontsize=10, color=INK, weight="bold")
    panel.set_ylabel("still working", fontsize=8)
    panel.yaxis.set_major_formatter(lambda share, _: f"{share:.0%}")
    panel.xaxis.set_major_formatter(lambda at, _: axis_number(at, curve.counts.unit))
    panel.tick_params(labelsize=8)
    panel.spines[["top", "right"]].set_visible(False)
    panel.grid(axis="y", color="#DDDDDD", linewidth=0.6)
    half = km.median
    if half.value is None:
        return f"{curve.component}: more than half still work at the end."
    age = f"{amount(half.value, half.unit)} {half.unit}"
    return f"{curve.component}: half have failed by {age}."


def _steps(panel: Axes, km: SurvivalCurve) -> None:
    """The step curve with its band, and ticks where parts left the watch still working."""
    table = km.table.filter(pl.col("at_risk") >= FEWEST_DRAWN).with_columns(
        pl.col("lower").fill_null(0.0), pl.col("upper").fill_null(1.0)
    )
    ages = np.concatenate([[km.begins_at], table["age"]])
    steps = {c: np.concatenate([[1.0], table[c]]) for c in ("survival", "lower", "upper")}
    panel.fill_between(
        ages, steps["lower"], steps["upper"], step="post", color=BAND, alpha=0.35, linewidth=0
    )
    panel.step(ages, steps["survival"], where="post", color=FAILURE, linewidth=1.8)
    left = km.counts.table.filter(
        pl.col("upper").is_infinite() & pl.col("lower").is_between(km.begins_at, ages[-1])
    )
    at = left["lower"].to_numpy()
    panel.plot(
        at, km.survival(at), linestyle="none", marker="|", markersize=4, color=INK, alpha=0.35
    )


def _fitted_line(panel: Axes, curve: ComponentCurve, *, begins_at: float, last: float) -> None:
    """The Weibull curve, given that the age was reached at which the steps begin."""
    if curve.weibull is None:
        return
    ages = np.linspace(begins_at, last, 200)[1:]
    given = curve.weibull.survival(ages) / curve.weibull.survival(begins_at)
    panel.plot(ages, given, color=FITTED, linestyle=(0, (5, 2)), linewidth=1.6)
    panel.text(
        0.03, 0.05, f"– – Weibull, shape {curve.weibull.shape:.1f}", color=FITTED, fontsize=8,
        transform=panel.transAxes,
    )  # fmt: skip


def _risk_numbers(panel: Axes, km: SurvivalCurve, last: float) -> None:
    """The numbers still watched, under the axis."""
    ages = round_ages(last)
    for at, number in zip(ages[1:], km.at_risk(ages[1:]), strict=True):
        panel.annotate(
            f"{number:.0f}", (at, 0), xycoords=("data", "axes fraction"), xytext=(0, -30),
            textcoords="offset points", ha="center", fontsize=7.5, color=INK,
        )  # fmt: skip
    panel.annotate(
        "watched", (0, 0), xycoords="axes fraction", xytext=(0, -30),
        textcoords="offset points", ha="center", fontsize=7.5, color=INK,
    )  # fmt: skip
    panel.set_xticks(ages)
    panel.set_xlabel(km.counts.unit, fontsize=8, labelpad=20)


def _empty_panel(panel: Axes, curve: ComponentCurve) -> str:
    panel.set_axis_off()
    panel.set_title(curve.component, loc="left", fontsize=10, color=INK, weight="bold")
    panel.text(
        0.02, 0.6, f"no failure among {curve.counts.n_lives:.0f} watched", fontsize=9, color=INK
    )
    return f"{curve.component}: no failure seen."


def round_ages(last: float) -> list[float]:
    """Round ages for the axis, from nought to the last seen.

    >>> round_ages(17.3), round_ages(212_000.0)
    ([0.0, 5.0, 10.0, 15.0], [0.0, 50000.0, 100000.0, 150000.0, 200000.0])
    """
    rough = last / MOST_AGES
    power = 10 ** np.floor(np.log10(rough))
    step = next(float(m * power) for m in (1, 2, 2.5, 5, 10) if m * power >= rough)
    return [float(at) for at in np.arange(0, last + step / 1000, step)]


def axis_number(at: float, unit: str) -> str:
    """A round age or distance as an axis shows it."""
    return f"{at / 1000:.0f}k" if unit == "miles" and at else f"{at:.0f}"


def draw_prices(priced: pl.DataFrame, *, currency: str) -> Drawing:
    """Each job's cost, nine jobs in ten, with the floor price and the one now asked."""
    rows = priced.filter(pl.col("floor_price_net").is_not_null())
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.6, 0.62 * rows.height + 1.1), layout="constrained")
    panel = figure.subplots()
    for y, row in enumerate(rows.to_dicts()):
        panel.plot(
            [row["cost_lower_net"], row["cost_upper_net"]], [y, y], color=BAND, linewidth=9,
            solid_capstyle="butt",
        )  # fmt: skip
        panel.plot(row["cost_mean_net"], y, marker="|", color=FAILURE, markersize=13, mew=2)
        panel.plot(row["floor_price_net"], y, marker="D", color=FITTED, markersize=8)
        panel.plot(row["present_price_net"], y, marker="o", mfc="white", mec=INK, markersize=8)
    panel.set_yticks(range(rows.height), rows["job"].to_list(), fontsize=8.5)
    panel.invert_yaxis()
    panel.set_xlim(left=0)
    panel.xaxis.set_major_formatter(lambda at, _: money(at, currency))
    panel.tick_params(axis="x", labelsize=8)
    panel.set_xlabel("before tax", fontsize=8)
    panel.spines[["top", "right", "left"]].set_visible(False)
    panel.set_title(
        "bar: cost of nine jobs in ten    | mean cost    ◆ floor price    ○ now asked",
        loc="left", fontsize=9, color=INK,
    )  # fmt: skip
    told = [
        f"{r['job']}: costs {money(r['cost_lower_net'], currency)} to "
        f"{money(r['cost_upper_net'], currency)}, floor price "
        f"{money(r['floor_price_net'], currency)}, now {money(r['present_price_net'], currency)}."
        for r in rows.to_dicts()
    ]
    return Drawing(svg_text(figure), "Cost and price of each job. " + " ".join(told))


def draw_expected(rows: pl.DataFrame) -> Drawing:
    """Failures to expect of each component, with the interval."""
    from matplotlib.figure import Figure

    known = rows.filter(pl.col("expected_failures").is_not_null() & (pl.col("component") != ALL))
    ordered = known.sort("expected_failures", descending=True)
    figure = Figure(figsize=(8.6, 0.36 * known.height + 1.0), layout="constrained")
    panel = figure.subplots()
    for y, row in enumerate(ordered.to_dicts()):
        panel.plot([row["lower"], row["upper"]], [y, y], color=BAND, linewidth=7)
        panel.plot(row["expected_failures"], y, marker="o", color=FAILURE, markersize=7)
        panel.annotate(
            f"{row['expected_failures']:.0f}", (row["upper"], y), xytext=(8, 0),
            textcoords="offset points", va="center", fontsize=8.5, color=INK,
        )  # fmt: skip
    panel.set_yticks(range(ordered.height), ordered["component"].to_list(), fontsize=8.5)
    panel.invert_yaxis()
    panel.set_xlim(left=0)
    panel.set_xlabel("failures in the next 12 months", fontsize=8)
    panel.tick_params(axis="x", labelsize=8)
    panel.spines[["top", "right", "left"]].set_visible(False)
    told = [
        f"{r['component']} {r['expected_failures']:.0f} ({r['lower']} to {r['upper']})"
        for r in ordered.to_dicts()
    ]
    return Drawing(
        svg_text(figure), "Failures to expect in the next 12 months: " + "; ".join(told) + "."
    )


def svg_text(figure: Figure) -> str:
    """The figure as SVG, the same bytes every time."""
    import matplotlib as mpl

    with mpl.rc_context({"svg.hashsalt": "wornby", "svg.fonttype": "path"}):
        page = io.StringIO()
        figure.savefig(page, format="svg", metadata={"Date": None})
    return page.getvalue()
