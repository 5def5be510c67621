"""Answers on failures that come back: is there a trend, and how soon do renewed parts fail?"""

from dataclasses import dataclass, replace
from typing import Any

import polars as pl

from wornby.curves.contrasts import holm
from wornby.curves.early_failures import comebacks
from wornby.curves.trend import TrendTest, laplace, military_handbook
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.recurring import recurrences
from wornby.reports.amounts import estimate_text
from wornby.reports.answer import ALL, Answer
from wornby.reports.life_answers import BOUNDS
from wornby.reports.sentences import SURE
from wornby.reports.version_answers import p_cells
from wornby.reports.workshop import Workshop

COMEBACK_MONTHS = (3, 6, 12, 24)


@dataclass(frozen=True, slots=True)
class Trend:
    """Both tests of one component's failures over the watch, or the reason why there are none."""

    component: str
    vehicles: int
    failures: int
    laplace: TrendTest | None
    handbook: TrendTest | None
    reason: str


def trend_answer(workshop: Workshop) -> Answer:
    """Whether failures of each component come faster or slower as a vehicle is watched on."""
    each = {name: recurrences(workshop.records, name) for name in workshop.catalogue.components}
    together = pl.concat(
        history.with_columns(vehicle=pl.concat_str(pl.col("vehicle"), pl.lit(f" {name}")))
        for name, history in each.items()
    )
    told = [_trend(name, history) for name, history in {**each, ALL: together}.items()]
    told[-1] = replace(told[-1], vehicles=told[0].vehicles)
    if not any(one.laplace for one in told):
        raise EstimateError("no failure lies within a watch: no trend to test")
    held = {
        test: iter(holm([getattr(one, test).p_value for one in told if getattr(one, test)]))
        for test in ("laplace", "handbook")
    }
    p_values = [
        {test: next(held[test]) if getattr(one, test) else None for test in held} for one in told
    ]
    rows = list(zip(told, p_values, strict=True))
    return Answer(
        "Do failures come faster as a vehicle ages?",
        pl.DataFrame([_people_trend(one, p) for one, p in rows]),
        pl.DataFrame([_typed_trend(one, p) for one, p in rows], infer_schema_length=None),
        (
            "Each failure's place in its vehicle's watch, from the first visit to the last, by "
            "Laplace's test and that of MIL-HDBK-189; failures spread evenly over each watch have "
            "no trend, though vehicles may differ in how many they have. A failure on the last "
            "day of a watch set that day, and is left out. The verdict goes by p held to account "
            f"for all {sum(one.laplace is not None for one in told)} rows (Holm 1979).",
            "Failures of all positions and grades, original and renewed alike. A part renewed at "
            "the first visit is new then, which by itself makes later failures more frequent than "
            "early ones; a component whose parts wear shows a trend only as far as its vehicles' "
            "parts were young when they first came.",
        ),
    )


def _trend(component: str, history: pl.DataFrame) -> Trend:
    vehicles, failures = history["vehicle"].n_unique(), int(history["failed"].sum())
    try:
        return Trend(
            component, vehicles, failures, laplace(history), military_handbook(history), ""
        )
    except EstimateError as refused:
        return Trend(component, vehicles, failures, None, None, str(refused))


def _verdict(one: Trend, p_values: dict[str, float | None]) -> str:
    """Plain words: a trend where both tests see it, perhaps where one does."""
    if one.laplace is None or one.handbook is None:
        return one.reason
    sure = [
        test.direction
        for test, p in ((one.laplace, p_values["laplace"]), (one.handbook, p_values["handbook"]))
        if p is not None and p < SURE
    ]
    if not sure:
        return "no trend to be told from chance"
    if len(set(sure)) > 1:
        return "the tests disagree"
    way = "faster with time" if sure[0] > 0 else "slower with time"
    return way if len(sure) == 2 else f"perhaps {way}: one test of two"


def _typed_trend(one: Trend, p_values: dict[str, float | None]) -> dict[str, Any]:
    first, second = one.laplace, one.handbook
    return {
        "component": one.component,
        "vehicles": one.vehicles,
        "failures": one.failures,
        "failures_within": first.n_failures if first else None,
        "laplace_score": first.statistic if first else None,
        "laplace_p_value": first.p_value if first else None,
        "laplace_p_value_held": p_values["laplace"],
        "handbook_chi_square": second.statistic if second else None,
        "handbook_degrees_of_freedom": 2 * second.n_failures if second else None,
        "handbook_p_value": second.p_value if second else None,
        "handbook_p_value_held": p_values["handbook"],
        "verdict": _verdict(one, p_values),
    }


def _people_trend(one: Trend, p_values: dict[str, float | None]) -> dict[str, str]:
    first, second = one.laplace, one.handbook
    told = {
        "component": one.component,
        "vehicles": str(one.vehicles),
        "failures": str(one.failures),
        "within a watch": str(first.n_failures) if first else "",
        "verdict": _verdict(one, p_values),
    }
    for name, test, text in (
        ("Laplace", first, f"{first.statistic:+.2f}" if first else ""),
        ("MIL-HDBK-189", second, _chi_square(second) if second else ""),
    ):
        held = p_values["laplace" if test is first else "handbook"]
        cells = p_cells(test.p_value if test else None, held)
        told |= {name: text} | {f"{name}: {what}": cell for what, cell in cells.items()}
    return told


def _chi_square(test: TrendTest) -> str:
    return f"{test.statistic:.1f} on {2 * test.n_failures}"


def comeback_answer(workshop: Workshop) -> Answer:
    """Of renewed parts of each grade, the share failed again within months of fitting."""
    rows: list[dict[str, Any]] = []
    people: list[dict[str, str]] = []
    for name in workshop.catalogue.components:
        own = workshop.episodes.table.filter(pl.col("component") == name)
        table = comebacks(own, months=COMEBACK_MONTHS, confidence=workshop.confidence)
        if table.is_empty():
            rows.append({"component": name, "fitments": 0.0, "note": "no renewed part watched"})
            people.append({"component": name, "fitted": "0", "note": "no renewed part watched"})
        for (grade,), told in table.partition_by(
            "grade", as_dict=True, maintain_order=True
        ).items():
            row, text = _comeback(told.to_dicts(), workshop.confidence)
            rows.append({"component": name, "grade": grade} | row)
            people.append({"component": name, "grade": str(grade)} | text)
    if not any(row["fitments"] for row in rows):
        raise EstimateError("no renewed part was watched: nothing to come back")
    return Answer(
        "Renewed parts that fail again, by months since fitting",
        pl.DataFrame(people, infer_schema_length=None),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            f"Share that has {workshop.episodes.rule.failed} by then, one less Kaplan-Meier, with "
            f"two-sided limits of {workshop.confidence:.0%} on the log-log scale, every part by "
            "itself. Where none had, “at most” is one-sided, at the same level: the most that as "
            "many as were followed so long allow. Parts of a place that no line names count in "
            "part.",
            "A part is followed from fitting to its end or the vehicle's last visit: one that "
            "failed and was mended elsewhere is not known.",
        ),
    )


def _comeback(
    told: list[dict[str, Any]], confidence: float
) -> tuple[dict[str, Any], dict[str, str]]:
    """One grade's row, typed and in words."""
    row: dict[str, Any] = {"fitments": told[0]["fitments"], "confidence": confidence}
    text = {"fitted": f"{told[0]['fitments']:.0f}"}
    for one in told:
        share, months = _share(one, confidence), f"{one['months']:.0f}_months"
        row |= {f"share_{months}_{part}": getattr(share, part) for part in BOUNDS}
        row |= {f"failures_{months}": one["failures"], f"at_risk_{months}": one["at_risk"]}
        text[f"within {one['months']:.0f} months"] = estimate_text(share)
    last = told[-1]
    note = "" if last["at_risk"] >= 1 else f"none followed for {last['months']:.0f} months"
    text |= {
        f"failed within {last['months']:.0f}": f"{last['failures']:.1f}".removesuffix(".0"),
        f"followed for {last['months']:.0f}": f"{last['at_risk']:.0f}",
    }
    return row | {"note": note}, text | {"note": note}


def _share(one: dict[str, Any], confidence: float) -> Estimate:
    if one["at_risk"] <= 0 and not one["failures"]:
        return Estimate(None, None, None, confidence, "share", "none followed so long")
    value = one["share"] if one["failures"] else None
    lower = 0.0 if one["lower"] is None else one["lower"]
    upper = 1.0 if one["upper"] is None else one["upper"]
    return Estimate(value, lower, upper, confidence, "share")
