"""The account of the records as a flow: from the rows read to the rows used, stage by stage."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from wornby.errors import RecordError
from wornby.ledger import Ledger
from wornby.reports.figures import (
    BAND,
    FAILURE,
    INK,
    LONGEST_ROW,
    PLAIN,
    SMALL,
    WIDE_INCHES,
    Drawing,
    drawn,
    in_our_style,
    panel_alone,
)
from wornby.reports.shown_text import label

if TYPE_CHECKING:
    from matplotlib.axes import Axes

STAGE_INCHES = 0.87
GAP = 0.16
"""Between streams at their end, as a share of the rows read."""
HIGH = 2.35
"""From one stage to the next."""
BENDS_FROM, BENDS_TO, ENDS = 0.3, 0.62, 0.7
USED = "used"
LOOKS: dict[str, dict[str, Any]] = {
    USED: {"facecolor": FAILURE, "linewidth": 0},
    "set aside": {"facecolor": BAND, "alpha": 0.45, "linewidth": 0},
    "rejected": {"facecolor": "white", "edgecolor": INK, "linewidth": 0.7},
}


def draw_account(ledgers: Sequence[Ledger]) -> Drawing:
    """A stream for each stage, as wide as the share of its rows used, set aside or rejected."""
    kept = [ledger for ledger in ledgers if ledger.n_read]
    if not kept:
        raise RecordError("no file has a row, so there is no account to draw")
    with in_our_style():
        panel = panel_alone(width=WIDE_INCHES, height=STAGE_INCHES * len(kept) + 0.25)
        panel.set_axis_off()
        for n, ledger in enumerate(kept):
            _stage(panel, ledger, top=-HIGH * n)
        panel.set(xlim=(0, 1), ylim=(-HIGH * len(kept) + 0.35, 0.75))
        return drawn(
            panel,
            "Where every row went. " + " ".join(map(_words, kept)),
            legend="From the rows read, left, to the rows used, right. Dark: used; pale: set "
            "aside, which still serve another purpose; outlined: rejected. What went where, and "
            "why, is in the table.",
        )


def fates(ledger: Ledger) -> dict[str, int]:
    """How many rows were used, set aside and rejected."""
    return {
        USED: ledger.n_accepted,
        "set aside": sum(ledger.set_aside.values()),
        "rejected": sum(ledger.rejected.values()),
    }


def _stage(panel: Axes, ledger: Ledger, *, top: float) -> None:
    """One stage: its rows enter together and part towards their fates."""
    panel.text(
        0,
        top + 0.18,
        f"{label(ledger.what, longest=LONGEST_ROW)}: {ledger.n_read:,} rows",
        fontsize=PLAIN,
        va="bottom",
    )
    across = np.linspace(0, ENDS, 60)
    bend = np.clip((across - BENDS_FROM) / (BENDS_TO - BENDS_FROM), 0, 1)
    bend = bend * bend * (3 - 2 * bend)
    entered = left = 0.0
    for n, (fate, rows) in enumerate(fates(ledger).items()):
        share = rows / ledger.n_read
        if share:
            upper = top - entered - bend * GAP * n
            panel.fill_between(across, upper - share, upper, **LOOKS[fate])
            at = min(upper[-1] - share / 2, left if n else np.inf)
            left = at - 0.42
            panel.text(ENDS + 0.02, at, f"{rows:,} {fate}", fontsize=SMALL, va="center", color=INK)
        entered += share


def _words(ledger: Ledger) -> str:
    told = ", ".join(f"{rows:,} {fate}" for fate, rows in fates(ledger).items() if rows)
    return f"{label(ledger.what)}: of {ledger.n_read:,} rows {told}."
