"""The card to pin over the ramp: on one page, from what age each part is renewed while open."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from wornby.curves.components import ENOUGH_FAILURES
from wornby.errors import EstimateError
from wornby.records.catalogue import Component
from wornby.reports.answer import Answer
from wornby.reports.figures import INK, LONGEST_ROW, Drawing, in_our_style, svg_text
from wornby.reports.ramp import Ramp, RampAdvice, usual_ramp, while_open_advice
from wornby.reports.sentences import cautions_for
from wornby.reports.shown_text import label
from wornby.reports.wear import places_alike
from wornby.reports.while_open_answers import from_age, oldest_in_records
from wornby.reports.workshop import Workshop

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PAGE_INCHES = (8.27, 11.69)
VALUE_POINTS, NAME_POINTS, GROUP_POINTS, SMALL_POINTS = 26, 19, 16, 10.5
"""A capital of 26 points is 6.6 mm high: twice what an eye needs from two metres."""
DEGRADED_ALWAYS = "a safety part: degraded, at any age"
RULE = "#999999"
LONGEST_BESIDES = 90
N_PATHS = 2500
"""Enough for ages to half a year."""


def ramp_card_answer(workshop: Workshop, *, age_years: float, horizon_years: float) -> Answer:
    """Every access group's break-even ages on one card, for a vehicle of this age and usual pace.

    Places of one component share a line: they live by one law, so what they differ by is the
    noise of the simulation, and the line has their mean.
    """
    ramp = usual_ramp(workshop, age_years=age_years, horizon_years=horizon_years)
    catalogue, oldest = workshop.catalogue, oldest_in_records(workshop)
    rows: list[dict[str, Any]] = []
    left_out: list[str] = []
    for group in (name for name in catalogue.access_groups if catalogue.group(name)):
        try:
            told = while_open_advice(workshop, group, ramp, failed=None, n_paths=N_PATHS)
        except EstimateError as error:
            left_out.append(str(error))
            continue
        rows += [
            row | _with_its_twin(row, workshop, ramp, oldest)
            for row in _rows(told, workshop, oldest)
        ]
        left_out += told.left_out
    if not rows:
        raise EstimateError("; ".join(left_out) or "no component has an access group: no card")
    people = [
        {
            "component": row["component"],
            "renew while open from": row["says"],
            "access": row["access"],
            "and": _besides(row),
            "look for": catalogue.component(row["component"]).look_for,
        }
        for row in rows
    ]
    return Answer(
        f"Renew while open: {catalogue.name}",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            f"The age is that of the part. For an owner who keeps the vehicle {horizon_years:g} "
            f"years and does {ramp.pace}, on a vehicle of {age_years:g} years whose other "
            "parts are original. A degraded part is worth more than its age says: ask again with "
            "what was found.",
            *left_out,
            *cautions_for([c for c in catalogue.components.values() if c.access_group]),
        ),
    )


def _rows(told: RampAdvice, workshop: Workshop, oldest: float) -> list[dict[str, Any]]:
    """A row for each component behind the access, its places together."""
    rows = []
    ages: dict[str, list[float | None]] = {}
    for row in told.advice.break_even_ages.to_dicts():
        ages.setdefault(row["component"].split(",")[0], []).append(row["break_even_age_years"])
    for name, each in ages.items():
        component: Component = workshop.catalogue.component(name)
        known = [age for age in each if age is not None]
        age = sum(known) / len(known) if len(known) == len(each) else None
        rows.append(
            {
                "access": told.advice.job.group.name,
                "component": name,
                "break_even_age_years": age,
                "says": from_age(age, component, told.ramp.pace, oldest),
                "pays_while_open": age is not None and age <= oldest,
                "safety": component.safety,
                "failures": _failures(workshop, name),
            }
        )
    return rows


def _failures(workshop: Workshop, component: str) -> float:
    """Those of originals: a part without a curve of its own has none."""
    curve = workshop.original.get(component)
    return 0.0 if curve is None else curve.counts.n_failures


def _with_its_twin(
    row: dict[str, Any], workshop: Workshop, ramp: Ramp, oldest: float
) -> dict[str, Any]:
    """From what age a place is renewed where another of the component has failed.

    It is said where that is earlier than by itself.
    """
    component: Component = workshop.catalogue.component(row["component"])
    alike = places_alike(workshop, component)
    if alike is None:
        return {"with_its_twin_years": None, "with_its_twin": ""}
    told = while_open_advice(workshop, row["access"], ramp, failed=alike.places[0], n_paths=N_PATHS)
    ages = told.advice.break_even_ages.filter(pl.col("component") == alike.places[1])
    age = ages["break_even_age_years"][0]
    says, alone = from_age(age, component, ramp.pace, oldest), row["break_even_age_years"]
    earlier = says != row["says"] and age is not None and (alone is None or age < alone)
    twin = f"its twin has failed: {_short(says)}" if earlier else ""
    return {"with_its_twin_years": age, "with_its_twin": twin}


def _besides(row: dict[str, Any]) -> str:
    """What else the card says of a component, below its name."""
    few = row["failures"] < ENOUGH_FAILURES
    texts = (
        DEGRADED_ALWAYS if row["safety"] else "",
        row["with_its_twin"],
        f"a guess: {row['failures']:.0f} failed so far" if few else "",
    )
    return "; ".join(text for text in texts if text)


def draw_ramp_card(card: Answer) -> Drawing:
    """The card as a page of letters that are read from two metres, black on white."""
    from matplotlib.figure import Figure

    rows = card.frame.to_dicts()
    groups = list(dict.fromkeys(row["access"] for row in rows))
    with in_our_style():
        page = Figure(figsize=PAGE_INCHES)
        sheet = page.add_axes((0.06, 0.03, 0.88, 0.94))
        sheet.set_axis_off()
        sheet.set(xlim=(0, 1), ylim=(len(rows) + 0.9 * len(groups) + 3.2, 0))
        title = label(card.title, longest=LONGEST_ROW)
        sheet.text(0, 0.3, title, fontsize=NAME_POINTS, weight="bold", color=INK, va="center")
        y = 1.2
        for group in groups:
            y = _group(sheet, group, [row for row in rows if row["access"] == group], y)
        small = "\n".join(_wrapped(note) for note in card.told_notes()[:1])
        sheet.text(0, y + 0.2, small, fontsize=SMALL_POINTS, color=INK, va="top", linespacing=1.3)
    words = [f"{label(row['component'])}: {row['says']}" for row in rows]
    return Drawing(svg_text(page), f"{card.title}. {'; '.join(words)}.")


def _group(sheet: Axes, group: str, rows: list[dict[str, Any]], y: float) -> float:
    sheet.axhline(y - 0.35, color=RULE, linewidth=1.0)
    access = label(group.upper(), longest=LONGEST_ROW)
    sheet.text(0, y + 0.1, access, fontsize=GROUP_POINTS, color=INK, va="center")
    y += 0.9
    for row in rows:
        name, besides = label(row["component"]), label(_besides(row), longest=LONGEST_BESIDES)
        high = 0.16 if besides else 0.0
        sheet.text(0.02, y - high, name, fontsize=NAME_POINTS, color=INK, va="center")
        if besides:
            sheet.text(0.02, y + 0.3, besides, fontsize=SMALL_POINTS, color=INK, va="center")
        sheet.text(
            1, y, _short(row["says"]), fontsize=VALUE_POINTS, weight="bold", color=INK,
            ha="right", va="center",
        )  # fmt: skip
        y += 1
    return y


def _short(says: str) -> str:
    """What fits beside a long name: the words before the reason."""
    return says.split(":", maxsplit=1)[0]


def _wrapped(note: str) -> str:
    import textwrap

    return textwrap.fill(note, 98)
