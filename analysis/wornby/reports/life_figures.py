"""Survival curves: the share of parts still working by age or distance, one panel a component."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from wornby.curves.components import ComponentCurve
from wornby.curves.nonparametric import SurvivalCurve
from wornby.curves.reach import youngest_entry
from wornby.errors import EstimateError
from wornby.reports.amounts import amount, percent
from wornby.reports.figures import (
    BAND,
    BAND_STRENGTH,
    DASHED,
    FAILURE,
    FEWEST_DRAWN,
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
from wornby.reports.shown_text import label

if TYPE_CHECKING:
    from matplotlib.axes import Axes

TICK = 0.022
"""Half the height of a tick, as a share of the axis."""
TICKS_ACROSS = 240
"""Ticks closer together than this many across the panel are one."""
BELOW_AXIS = -29


def draw_lives(curves: dict[str, ComponentCurve], *, confidence: float) -> Drawings:
    """A panel for each component: the share still working by age or distance."""
    if not curves:
        raise EstimateError("no component has a curve to draw")
    with in_our_style():
        panels = tuple(_life_panel(curve) for curve in curves.values())
    return Drawings(
        panels,
        legend="Full line: share still working, by the records, with its "
        f"{percent(confidence)} band (Kaplan-Meier; log-log, at each age by itself), of the parts "
        "that worked when the first came under watch: nobody was watched before that age, so the "
        "line begins there. Dashed: Weibull curve. Small ticks: parts that left the watch still "
        "working. Under the axis: parts still watched; the full line stops where fewer than "
        f"{FEWEST_DRAWN} are.",
    )


def _life_panel(curve: ComponentCurve) -> Drawing:
    """One component's curve, with what the picture says in words."""
    panel = panel_alone()
    titled(panel, curve.component)
    km = curve.nonparametric
    if not isinstance(km, SurvivalCurve) or not km.table.height:
        return _without_failure(panel, curve)
    last = float(curve.counts.table["lower"].max())  # type: ignore[arg-type]  # never empty here
    first = _begins(km)
    panel.grid(axis="y")
    _steps(panel, km, begins_at=first)
    _fitted_line(panel, curve, begins_at=first, last=last)
    _risk_numbers(panel, km, last)
    panel.set(ylim=(0, 1.02), xlim=(0, last * 1.02))
    panel.set_ylabel("still working")
    panel.yaxis.set_major_formatter(lambda share, _: percent(share))
    panel.xaxis.set_major_formatter(lambda at, _: axis_number(at, curve.counts.unit))
    return drawn(panel, _words(curve, km))


def _begins(km: SurvivalCurve) -> float:
    """The age from which the curve speaks: before it nobody was watched, or too few."""
    return max(km.begins_at, youngest_entry(km.counts))


def _words(curve: ComponentCurve, km: SurvivalCurve) -> str:
    half = km.median
    told = (
        "more than half still work at the end of the watch"
        if half.value is None
        else f"half have failed by {amount(half.value, half.unit)} {half.unit}"
    )
    first, unit = _begins(km), curve.counts.unit
    before = f"nobody was watched before {amount(first, unit)} {unit}; " if first else ""
    if km.begins_at:
        before = f"too few were watched before {amount(first, unit)} {unit}; "
    fitted = "" if curve.weibull is None else f"; Weibull of shape {curve.weibull.shape:.1f}"
    return (
        f"{label(curve.component)}: share still working by {unit}; {before}{told}{fitted}; "
        f"{curve.counts.n_failures:.0f} failed of {curve.counts.n_lives:.0f} watched."
    )


def _steps(panel: Axes, km: SurvivalCurve, *, begins_at: float) -> None:
    """The step curve with its band, and ticks where parts left the watch still working."""
    table = km.table.filter(pl.col("at_risk") >= FEWEST_DRAWN).with_columns(
        pl.col("lower").fill_null(0.0), pl.col("upper").fill_null(1.0)
    )
    ages = np.concatenate([[begins_at], table["age"]])
    steps = {c: np.concatenate([[1.0], table[c]]) for c in ("survival", "lower", "upper")}
    panel.fill_between(
        ages, steps["lower"], steps["upper"], step="post", color=BAND, alpha=BAND_STRENGTH,
        linewidth=0,
    )  # fmt: skip
    panel.step(ages, steps["survival"], where="post", color=FAILURE, linewidth=1.8)
    left = km.counts.table.filter(
        pl.col("upper").is_infinite() & pl.col("lower").is_between(begins_at, ages[-1])
    )
    apart = max(float(ages[-1]) / TICKS_ACROSS, 1e-9)
    at = left["lower"].to_numpy()
    at = at[np.unique(np.round(at / apart), return_index=True)[1]]
    height = km.survival(at)
    none = np.full(at.size, np.nan)
    panel.plot(
        np.column_stack([at, at, none]).ravel(),
        np.column_stack([height - TICK, height + TICK, none]).ravel(),
        color=INK, alpha=0.6, linewidth=0.6,
    )  # fmt: skip


def _fitted_line(panel: Axes, curve: ComponentCurve, *, begins_at: float, last: float) -> None:
    """The Weibull curve, given that the age was reached at which the steps begin."""
    if curve.weibull is None:
        return
    ages = np.linspace(begins_at, last, 100)[1:]
    given = curve.weibull.survival(ages) / curve.weibull.survival(begins_at)
    panel.plot(ages, given, color=FITTED, linestyle=DASHED, linewidth=1.6)
    panel.text(
        0.03, 0.05, f"Weibull, shape {curve.weibull.shape:.1f}", color=FITTED, fontsize=SMALL,
        transform=panel.transAxes,
    )  # fmt: skip


def _risk_numbers(panel: Axes, km: SurvivalCurve, last: float) -> None:
    """The numbers still watched, under the axis."""
    ages = round_ages(last)
    told = [("watched", 0.0), *((f"{n:.0f}", at) for at, n in _at_risk(km, ages[1:]))]
    for text, at in told:
        panel.annotate(
            text, (at, 0), xycoords=("data", "axes fraction"), xytext=(0, BELOW_AXIS),
            textcoords="offset points", ha="center", fontsize=SMALL, annotation_clip=False,
        )  # fmt: skip
    panel.set_xticks(ages)
    panel.set_xlabel(km.counts.unit, labelpad=18)


def _at_risk(km: SurvivalCurve, ages: list[float]) -> list[tuple[float, float]]:
    return list(zip(ages, map(float, km.at_risk(ages)), strict=True))


def _without_failure(panel: Axes, curve: ComponentCurve) -> Drawing:
    panel.set_axis_off()
    said = f"no failure among {curve.counts.n_lives:.0f} watched"
    panel.text(0.02, 0.6, said, transform=panel.transAxes)
    return drawn(panel, f"{label(curve.component)}: {said}, so no curve.")
