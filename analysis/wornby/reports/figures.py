"""The visual language: every picture that wornby draws is made of what stands here.

A person reads a picture in five seconds, on a phone or printed in grey, in colour or without.

- Age, distance or time runs to the right; counts and shares go up. Lists of names are bars on
  their side, the name above its bar, so that they fit a phone.
- A failure is FAILURE, what was renewed while it still worked is PREVENTIVE, and neither colour
  is ever used for anything else. What was seen is a full line, what was fitted or advised is
  FITTED and dashed or a diamond, an interval is BAND, what is asked or done now is a hollow
  circle. Each differs in form as well as in colour, because grey print tells no colours apart.
- A survival curve has a pale band, small ticks where parts left the watch still working, and
  the numbers still watched under the axis.
- Lines are named where they run; a legend of a figure is a sentence under it, in the page's own
  type, never letters inside the picture; over many panels it stands first.
- A picture is drawn as wide as a phone. Several panels are several pictures: side by side where
  there is room (`Drawings`), one under the other where there is not.
- Colours are those of Okabe & Ito (2008), which colour-blind readers tell apart, darkened until
  words in them reach a contrast of 4.5 on white (W3C, WCAG 2.1, criterion 1.4.3).
- Every picture says in words what it shows (`alt`).
"""

from __future__ import annotations

import base64
import html
import io
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from wornby.reports.answer import INERT_IN_JUPYTER
from wornby.reports.shown_text import LONGEST_SENTENCE, label, shown

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FAILURE = "#0068A3"
PREVENTIVE = "#00735A"
FITTED = "#B34A00"
BAND = "#56B4E9"
INK = "#222222"
QUIET = "#595959"
GRID = "#DDDDDD"
DASHED = (0, (5, 2))
BAND_STRENGTH = 0.35
PANEL_INCHES = (3.5, 2.8)
"""One panel, as wide as a phone's screen."""
WIDE_INCHES, LONGEST_ROW = 4.0, 48
"""A list of bars, which stands alone, and the letters that fit across it."""
SMALL, PLAIN, TITLE = 8.5, 9.0, 10.5
"""Sizes of letters in points."""
NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
SIDE = {side: re.compile(rf'<svg[^>]* {side}="([\d.]+)pt"') for side in ("width", "height")}
PATH, DECIMALS = re.compile(r'(?<= d=")[^"]*'), re.compile(r"(\.\d)\d+")
"""A tenth of a point is finer than any eye."""
BREAKS, INDENTS = re.compile(r"\s*\n\s*"), re.compile(r"\n\s+")
"""Line breaks in a path and indents make a page longer and nothing else."""
MOST_AGES = 5
FEWEST_DRAWN = 5
"""A curve stops where fewer parts are watched: a step there says next to nothing."""
STYLE: dict[Any, object] = {
    "font.family": "DejaVu Sans",
    "font.size": PLAIN,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.labelsize": SMALL,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "axes.titlesize": TITLE,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "grid.color": GRID,
    "grid.linewidth": 0.6,
    "hatch.linewidth": 0.6,
    "svg.fonttype": "path",
    "svg.hashsalt": "wornby",
    "text.color": INK,
    "text.parse_math": False,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
}


@dataclass(frozen=True, eq=False, slots=True)
class Drawing:
    """A picture with the words for those who cannot see it, and a legend in one sentence."""

    svg: str
    alt: str
    legend: str = ""

    @property
    def size_points(self) -> tuple[float, float]:
        """Its width and height as drawn."""
        width, height = (SIDE[side].search(self.svg) for side in ("width", "height"))
        return (float(width[1]), float(height[1])) if width and height else (1.0, 1.0)

    def __repr__(self) -> str:
        """The words, which is what a text console and a test can show."""
        return shown(self.alt, longest=LONGEST_SENTENCE)

    def _repr_html_(self) -> str:
        return Drawings((self,), legend=self.legend)._repr_html_()


@dataclass(frozen=True, eq=False, slots=True)
class Drawings:
    """Panels that a page sets side by side where it is wide enough, under one legend."""

    drawings: tuple[Drawing, ...]
    legend: str

    def __repr__(self) -> str:
        """The words of every panel."""
        return " ".join(repr(drawing) for drawing in self.drawings)

    def _repr_html_(self) -> str:
        width = "panels" if len(self.drawings) > 1 else "alone"
        images = "".join(_image(drawing) for drawing in self.drawings)
        legend = html.escape(shown(self.legend, longest=LONGEST_SENTENCE))
        caption = f"<figcaption>{legend}</figcaption>" if legend else ""
        panels = f'<div class="{width}">{images}</div>'
        told = f"{caption}{panels}" if len(self.drawings) > 1 else f"{panels}{caption}"
        return f'<figure class="drawing {INERT_IN_JUPYTER}">{told}</figure>'


def _image(drawing: Drawing) -> str:
    data = base64.b64encode(drawing.svg.encode()).decode()
    return f'<img alt="{html.escape(repr(drawing))}" src="data:image/svg+xml;base64,{data}">'


@contextmanager
def in_our_style() -> Iterator[None]:
    """Draw in the visual language; letters that the font lacks become boxes without a word."""
    import matplotlib as mpl
    import seaborn as sns

    look = {**sns.axes_style("ticks"), **sns.plotting_context("paper"), **STYLE}
    with mpl.rc_context(look), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        warnings.filterwarnings("ignore", message="Matplotlib currently does not support")
        yield


def panel_alone(*, height: float = PANEL_INCHES[1], width: float = PANEL_INCHES[0]) -> Axes:
    """One panel of its own, to be drawn on inside `in_our_style`."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height), layout="constrained").subplots()


def drawn(panel: Axes, alt: str, *, legend: str = "") -> Drawing:
    """The finished panel with its words."""
    return Drawing(svg_text(panel.figure), alt, legend)  # type: ignore[arg-type]  # never a subfigure


def titled(panel: Axes, title: str) -> None:
    """Name the panel, with no more letters than fit."""
    panel.set_title(label(title))


def bar_rows(names: list[str], *, inches_a_row: float = 0.48) -> Axes:
    """A panel for bars on their side, one row a name, each name above its bar."""
    panel = panel_alone(width=WIDE_INCHES, height=inches_a_row * len(names) + 0.7)
    for y, name in enumerate(names):
        panel.annotate(
            label(name, longest=LONGEST_ROW), (0, y), xycoords=("axes fraction", "data"),
            xytext=(0, 6.5), textcoords="offset points", va="bottom", fontsize=PLAIN,
        )  # fmt: skip
    panel.set_ylim(len(names) - 0.6, -0.75)
    panel.set_yticks([])
    panel.spines[["left"]].set_visible(False)
    panel.grid(axis="x")
    panel.set_axisbelow(True)
    return panel


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
    far = unit in ("miles", "kilometres")
    return f"{at / 1000:.0f}k" if far and at else f"{at:.0f}"


def svg_text(figure: Figure) -> str:
    """The figure as SVG, the same bytes every time."""
    page = io.StringIO()
    with in_our_style():
        figure.savefig(page, format="svg", metadata={"Date": None})
    text = NOT_IN_XML.sub("", page.getvalue())
    lean = PATH.sub(lambda path: DECIMALS.sub(r"\1", BREAKS.sub("", path.group())), text)
    return INDENTS.sub("\n", lean)
