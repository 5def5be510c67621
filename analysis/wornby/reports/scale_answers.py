"""The answer to "age or distance?": the scale by which each component wears, and the one stated."""

import math
from typing import Any

import polars as pl

from wornby.curves.blend import ScaleComparison, age_or_distance, lives_on_both
from wornby.curves.components import ENOUGH_FAILURES
from wornby.errors import EstimateError
from wornby.progress import each
from wornby.records.catalogue import Catalogue, Component
from wornby.reports.amounts import amount, percent
from wornby.reports.answer import Answer
from wornby.reports.workshop import Workshop

CONTRADICTED = "no"
NEARLY_SURE = 0.99
SCHEMA = {
    "component": pl.String,
    "stated_scale": pl.String,
    "failures": pl.Float64,
    "better_scale": pl.String,
    "support_of_better": pl.Float64,
    "age_ruled_out": pl.Boolean,
    "distance_ruled_out": pl.Boolean,
    "stated_scale_agrees": pl.String,
    "log_likelihood_age": pl.Float64,
    "log_likelihood_distance": pl.Float64,
    "log_likelihood_blend": pl.Float64,
    "support_of_blend": pl.Float64,
    "distance_weight": pl.Float64,
    "distance_weight_lower": pl.Float64,
    "distance_weight_upper": pl.Float64,
    "distance_like_a_year": pl.Float64,
    "distance_unit": pl.String,
    "confidence": pl.Float64,
    "note": pl.String,
}


def scale_answer(workshop: Workshop) -> Answer:
    """Age or distance? Each component on both scales and their blend, on the same failures."""
    originals = workshop.episodes.table.filter(pl.col("origin") == "original")
    rows = [
        _compared(
            lives_on_both(originals.filter(pl.col("component") == component.name)),
            component,
            workshop.catalogue,
            confidence=workshop.confidence,
        )
        for component in each(list(workshop.catalogue.components.values()), "scales")
    ]
    return Answer(
        "Age or distance?",
        pl.DataFrame([_people_scale(row) for row in rows]),
        pl.DataFrame(rows, schema=SCHEMA),
        (*_what_to_edit(rows), *_notes(workshop.confidence)),
    )


def _compared(
    lives: pl.DataFrame, component: Component, catalogue: Catalogue, *, confidence: float
) -> dict[str, Any]:
    """One component's comparison, or why there is none."""
    failures = float(lives.filter("failed")["count"].sum())
    row = {"component": component.name, "stated_scale": component.scale, "failures": failures}
    if failures < ENOUGH_FAILURES:
        few = f"{failures:g} failed at a known age and distance: wanted {ENOUGH_FAILURES}"
        return {**row, "confidence": confidence, "note": few}
    try:
        found = age_or_distance(lives, confidence=confidence)
    except EstimateError as error:
        return {**row, "confidence": confidence, "note": str(error)}
    return {
        **row,
        **_typed_scale(found, component.scale, catalogue),
        "confidence": confidence,
        "note": found.sentence,
    }


def _typed_scale(found: ScaleComparison, stated: str, catalogue: Catalogue) -> dict[str, Any]:
    by_scale = {row["scale"]: row for row in found.table.to_dicts()}
    height = {scale: row["log_likelihood"] for scale, row in by_scale.items()}
    better = "age" if height["age"] >= height["distance"] else "distance"
    gap = abs(height["age"] - height["distance"])
    out = {"age": found.lower > 0, "distance": found.upper < 1}
    return {
        "better_scale": better,
        "support_of_better": 1 / (1 + math.exp(-gap)),
        "age_ruled_out": out["age"],
        "distance_ruled_out": out["distance"],
        "stated_scale_agrees": _agreement(stated, better, out),
        **{f"log_likelihood_{scale}": value for scale, value in height.items()},
        "support_of_blend": by_scale["blend"]["support"],
        "distance_weight": found.distance_weight,
        "distance_weight_lower": found.lower,
        "distance_weight_upper": found.upper,
        "distance_like_a_year": None
        if found.miles_per_year is None
        else found.miles_per_year * catalogue.per_mile,
        "distance_unit": catalogue.distances_in,
    }


def _agreement(stated: str, better: str, out: dict[str, bool]) -> str:
    """Whether the records bear out the stated scale: yes, nearer, not contradicted, or no."""
    other = "distance" if stated == "age" else "age"
    if out[stated] and out[other]:
        return "nearer than the other" if stated == better else CONTRADICTED
    if out[stated]:
        return CONTRADICTED
    return "yes" if out[other] else "not contradicted"


def _people_scale(row: dict[str, Any]) -> dict[str, str]:
    told = {
        "component": row["component"],
        "failed": f"{row['failures']:.0f}",
        "workshop.toml says": row["stated_scale"],
    }
    if "better_scale" not in row:
        rest = ("do they agree?", "share of distance in the wear", "a year wears like")
        return {**told, "records say": f"no answer: {row['note']}", **dict.fromkeys(rest, "")}
    limits = f"{row['distance_weight_lower']:.2f} to {row['distance_weight_upper']:.2f}"
    return {
        **told,
        "records say": _records_say(row),
        "do they agree?": row["stated_scale_agrees"],
        "share of distance in the wear": f"{row['distance_weight']:.2f} ({limits})",
        "a year wears like": _year_like(row),
    }


def _records_say(row: dict[str, Any]) -> str:
    better, share = row["better_scale"], row["support_of_better"]
    support = f"over {percent(NEARLY_SURE)}" if share > NEARLY_SURE else percent(share)
    out = [scale for scale in ("age", "distance") if row[f"{scale}_ruled_out"]]
    if len(out) == 2:
        return f"both, nearer {better}"
    if not out:
        return f"cannot tell; {better} a little likelier ({support})"
    return f"{better} ({support}); {out[0]} alone ruled out"


def _year_like(row: dict[str, Any]) -> str:
    """The distance that wears as a year does, where both wear."""
    if not (row["age_ruled_out"] and row["distance_ruled_out"]):
        return ""
    return f"{amount(row['distance_like_a_year'], row['distance_unit'])} {row['distance_unit']}"


def _what_to_edit(rows: list[dict[str, Any]]) -> list[str]:
    wrong = [row for row in rows if row.get("stated_scale_agrees") == CONTRADICTED]
    return [
        f"{row['component']}: stated to wear by {row['stated_scale']}, but failures line up better "
        f"on {row['better_scale']}. In workshop.toml, under [[component]] name = "
        f'"{row["component"]}", write scale = "{row["better_scale"]}".'
        for row in wrong
    ]


def _notes(confidence: float) -> tuple[str, ...]:
    return (
        "Weibull curves of original parts on age, on distance and on the blend of the two that "
        "fits best, all on the same lives: those with an age and a distance at entry and exit. "
        "In brackets the weight of evidence for the better of age and distance (Akaike's).",
        f"A scale alone is ruled out where the {confidence:.0%} profile limits of the share of "
        "distance leave it out. Share 0 is wear by age alone, 1 by distance alone, each over its "
        "mean at failure. Of many components one or another is ruled out by chance.",
    )
