"""How a finding moves with the readiness of those without trouble, as a picture."""

import numpy as np

from wornby.errors import EstimateError
from wornby.reports.amounts import percent, stated
from wornby.reports.figures import (
    BAND,
    BAND_STRENGTH,
    DASHED,
    FAILURE,
    INK,
    QUIET,
    SMALL,
    Drawing,
    Drawings,
    drawn,
    in_our_style,
    panel_alone,
    titled,
)
from wornby.reports.nonresponse_answers import shown_bounds, telling, tipping_text
from wornby.survey.nonresponse import Readiness
from wornby.survey.thresholds import Thresholds

LEGEND = (
    "Line: the share renewed by then, were those without trouble so many times readier, or less "
    "ready, to answer; pale band: its interval"
)
DASHED_SAYS, DOTTED_SAYS = "dashed: the stated share", "dotted: what no silence can undo"


def draw_nonresponse(findings: list[Readiness], thresholds: Thresholds) -> Drawings:
    """A panel for each component: its share against the readiness of those without trouble.

    EstimateError: nothing to draw.
    """
    if not findings:
        raise EstimateError("no finding to draw")
    with in_our_style():
        return Drawings(
            tuple(_panel(one, thresholds) for one in findings), _legend(findings, thresholds)
        )


def _legend(findings: list[Readiness], thresholds: Thresholds) -> str:
    """What the lines are that were drawn, and of none that was not."""
    dashed = any(one.conclusion is not None for one in findings)
    dotted = any(telling(shown_bounds(one.bounds, thresholds)) for one in findings)
    lines = [LEGEND, *([DASHED_SAYS] if dashed else []), *([DOTTED_SAYS] if dotted else [])]
    return "; ".join(lines) + "."


def _panel(one: Readiness, thresholds: Thresholds) -> Drawing:
    panel = panel_alone()
    times, share, lower, upper = (column.to_numpy() for column in one.table.get_columns())
    panel.fill_between(times, lower, upper, color=BAND, alpha=BAND_STRENGTH, linewidth=0)
    panel.plot(times, share, color=FAILURE, linewidth=1.8)
    panel.axvline(1.0, color=QUIET, linewidth=0.6)
    if one.conclusion is not None:
        panel.axhline(one.conclusion, color=INK, linestyle=DASHED, linewidth=1.0)
    shown = shown_bounds(one.bounds, thresholds)
    bounds = shown if telling(shown) else None
    for bound in bounds or ():
        panel.axhline(bound, color=QUIET, linestyle=":", linewidth=1.0)
    panel.set_xscale("log")
    panel.set_xticks(times, [_tick(at) for at in times], fontsize=SMALL)
    panel.minorticks_off()
    panel.set_ylim(0, 1)
    panel.yaxis.set_major_formatter(lambda at, _: f"{at:.0%}")
    panel.set_xlabel("times readier  |  times less ready")
    panel.set_ylabel(f"renewed by {stated(one.by, one.unit)}")
    titled(panel, one.component)
    return drawn(panel, _alt(one, bounds))


def _tick(times_less_ready: float) -> str:
    return f"{max(times_less_ready, 1 / times_less_ready):.0f}"


def _alt(one: Readiness, bounds: tuple[float, float] | None) -> str:
    """The picture in words."""
    share = dict(zip(np.round(one.table["times_less_ready"], 3), one.table["share"], strict=True))
    said = (
        f"{one.component}: {percent(share[1.0])} renewed by {stated(one.by, one.unit)}, "
        f"{percent(share[5.0])} if those without trouble are 5 times less ready to answer, "
        f"{percent(share[0.2])} if 5 times readier."
    )
    if one.conclusion is not None:
        said += f" {percent(one.conclusion)} at {tipping_text(one)}."
    if bounds is not None:
        said += f" Whatever the silent would say: {percent(bounds[0])} to {percent(bounds[1])}."
    return said
