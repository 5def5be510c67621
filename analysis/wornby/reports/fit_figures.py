"""Probability paper: do the failures of a component lie on its Weibull line?

On Weibull paper age is on a logarithmic axis and the share failed on one on which every Weibull
curve is a straight line, its slope the shape.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from wornby.curves.components import ComponentCurve
from wornby.curves.goodness_of_fit import plot_places
from wornby.curves.likelihood import WEIBULL
from wornby.curves.log_ages import Array
from wornby.curves.parametric import WeibullCurve
from wornby.curves.profile import survival_band
from wornby.errors import EstimateError
from wornby.reports.amounts import percent
from wornby.reports.figures import (
    DASHED,
    FAILURE,
    FEWEST_DRAWN,
    FITTED,
    MOST_AGES,
    SMALL,
    Drawing,
    Drawings,
    axis_number,
    drawn,
    in_our_style,
    panel_alone,
    titled,
)
from wornby.reports.shown_text import label

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SHARES = (0.001, 0.01, 0.05, 0.2, 0.5, 0.9, 0.99)
"""Shares failed that the upright axis may name."""
NEAR = 1.25
"""The age axis reaches this factor past the first and last failure."""
AGES_ON_BAND = 25
FAINTEST = 1e-12
STEPS = ((1, 2, 3, 5), (1, 3, 10), (1,))
"""Which multiples of a power of ten the age axis names: the first list that is short enough."""


def draw_probability_plot(curves: Mapping[str, ComponentCurve], *, confidence: float) -> Drawings:
    """A panel of Weibull paper for each component: failures as dots, the fitted line, its band.

    A hollow dot is a failure seen with fewer than five parts still watched. Components with too
    few failures for a line keep their panel, which says so.
    """
    if not curves:
        raise EstimateError("no component has a curve to draw")
    with in_our_style():
        panels = tuple(_paper(curve, confidence=confidence) for curve in curves.values())
    return Drawings(
        panels,
        legend="Weibull paper. Dots: failures; hollow where fewer than "
        f"{FEWEST_DRAWN} parts were still watched. Dashed: the fitted line with its "
        f"{percent(confidence)} band. Dots along the line mean that the Weibull fits.",
    )


def _paper(curve: ComponentCurve, *, confidence: float) -> Drawing:
    """One component's paper, with what it says in words."""
    panel = panel_alone()
    titled(panel, curve.component)
    if curve.weibull is None:
        return _no_line(panel, curve)
    places = plot_places(curve.counts, WEIBULL)
    age, place = places["age"].to_numpy(), places["place"].to_numpy()
    few = places["at_risk"].to_numpy() < FEWEST_DRAWN
    first, last = float(age.min()) / NEAR, float(age.max()) * NEAR
    line = _line(panel, curve.weibull, np.geomspace(first, last, AGES_ON_BAND), confidence)
    panel.plot(age[~few], place[~few], "o", markersize=3.4, color=FAILURE)
    panel.plot(age[few], place[few], "o", markersize=3.4, mfc="white", mec=FAILURE)
    _axes(panel, curve.counts.unit, first=first, last=last)
    panel.set_ylim(min(line.min(), place.min()) - 0.2, max(line.max(), place.max()) + 0.5)
    panel.text(
        0.03, 0.97, f"Weibull, shape {curve.weibull.shape:.1f}", color=FITTED, fontsize=SMALL,
        transform=panel.transAxes, va="top",
    )  # fmt: skip
    band = survival_band(curve.weibull, age, confidence=confidence)
    failed = 1 - places["share"]
    held = int(failed.is_between(band["lower"], band["upper"]).sum())
    return drawn(
        panel,
        f"{label(curve.component)} on Weibull paper: {held} of {places.height} failure ages lie "
        f"within the fitted line's {percent(confidence)} band.",
    )


def _line(panel: Axes, fitted: WeibullCurve, ages: Array, confidence: float) -> Array:
    """The fitted line with its pointwise band; returns the line's heights."""
    band = survival_band(fitted, ages, confidence=confidence)
    line, top, bottom = (
        np.log(-np.log(band[name].to_numpy().clip(FAINTEST, 1 - FAINTEST)))
        for name in ("survival", "lower", "upper")
    )
    panel.fill_between(ages, bottom, top, color=FITTED, alpha=0.16, linewidth=0)
    panel.plot(ages, line, color=FITTED, linestyle=DASHED, linewidth=1.6)
    return np.asarray(line)


def _axes(panel: Axes, unit: str, *, first: float, last: float) -> None:
    """A logarithmic age axis and an upright one on which a Weibull is a straight line."""
    panel.set_xscale("log")
    panel.set_xlim(first, last)
    ages = ages_on_paper(first, last)
    panel.set_xticks(ages, [axis_number(age, unit) for age in ages])
    panel.set_xticks([], minor=True)
    places = [WEIBULL.quantile(share) for share in SHARES]
    panel.set_yticks(places, [percent(share) for share in SHARES])
    panel.set_xlabel(unit)
    panel.set_ylabel("failed")
    panel.grid()


def ages_on_paper(first: float, last: float) -> list[float]:
    """Round ages for a logarithmic axis, few enough to read.

    >>> ages_on_paper(2.2, 23.0), ages_on_paper(24_000.0, 210_000.0)
    ([3.0, 5.0, 10.0, 20.0], [30000.0, 50000.0, 100000.0, 200000.0])
    """
    powers = 10.0 ** np.arange(np.floor(np.log10(first)), np.ceil(np.log10(last)) + 1)
    for steps in STEPS:
        ages = [float(step * power) for power in powers for step in steps]
        inside = [age for age in ages if first <= age <= last]
        if len(inside) <= MOST_AGES:
            return inside
    return inside


def _no_line(panel: Axes, curve: ComponentCurve) -> Drawing:
    panel.set_axis_off()
    n = f"{curve.counts.n_failures:g} failed of {curve.counts.n_lives:.0f}"
    panel.text(0.02, 0.75, f"{n}: too few for a line", transform=panel.transAxes)
    return drawn(panel, f"{label(curve.component)}: {n}, too few for a line on Weibull paper.")
