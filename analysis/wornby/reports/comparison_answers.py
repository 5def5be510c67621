"""Answers by comparison: part grades, observation rules, and failures that come back."""

import polars as pl

from wornby.curves.grades import grade_comparison
from wornby.curves.recurrence import mean_cumulative_function
from wornby.errors import EstimateError
from wornby.histories.observation import RULES
from wornby.histories.recurrences import recurrences
from wornby.reports.amounts import estimate_text
from wornby.reports.answer import Answer
from wornby.reports.life_answers import BOUNDS, b10_life
from wornby.reports.workshop import Workshop, curves_under

EARLY_MONTHS = 24
RECURRENCE_AGES = (10, 15, 20)
SIGNIFICANT = 0.05


def grade_answer(workshop: Workshop) -> Answer:
    """Renewed parts by grade: failures, and the share failed within two years of fitting."""
    rows, people = [], []
    for name in workshop.catalogue.components:
        made = grade_comparison(
            workshop.episodes,
            name,
            early_months=EARLY_MONTHS,
            confidence=workshop.confidence,
        )
        p_value = made.test.p_value if made.test else None
        for row in made.table.to_dicts():
            early = made.early[row["grade"]]
            parts = {f"early_share_{part}": getattr(early, part) for part in BOUNDS}
            rows.append({"component": name, **row, **parts, "p_value": p_value})
            people.append(
                {
                    "component": name,
                    "grade": row["grade"],
                    "fitted": str(row["fitments"]),
                    "failed": str(row["failures"]),
                    f"failed within {EARLY_MONTHS} months": estimate_text(early),
                    "failures per 100 fitment-years": f"{row['failures_per_100_years']:.1f}",
                    "do grades differ?": _difference(p_value, made.reason),
                }
            )
    return Answer(
        "Renewed parts by grade",
        pl.DataFrame(people, infer_schema_length=None),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            "Log-rank test over all grades of the component, not corrected for the number of "
            "components: with fourteen, one in twenty differs by chance alone.",
        ),
    )


def _difference(p_value: float | None, reason: str) -> str:
    if p_value is None:
        return f"not compared: {reason}"
    if p_value < SIGNIFICANT:
        return f"yes (p {'below 0.001' if p_value < 0.001 else f'= {p_value:.3f}'})"
    return f"not enough to tell (p = {p_value:.2f})"


def recurrence_answer(workshop: Workshop) -> Answer:
    """How many failures of each component a vehicle has gathered by an age, on average."""
    rows, people = [], []
    for component in workshop.catalogue.components:
        history = recurrences(workshop.records, component)
        if not history["failed"].any():
            continue
        mean = mean_cumulative_function(history, confidence=workshop.confidence)
        told = {"component": component, "failures seen": str(int(history["failed"].sum()))}
        for age in RECURRENCE_AGES:
            reached = mean.table.filter(pl.col("age") <= age)
            if reached.is_empty():
                told[f"by {age} years"] = "none seen"
                continue
            row = reached.row(-1, named=True)
            told[f"by {age} years"] = (
                f"{row['mean']:.2f} ({row['lower']:.2f} to {row['upper']:.2f})"
            )
            rows.append(
                {
                    "component": component,
                    "age_years": age,
                    "mean_failures": row["mean"],
                    "lower": row["lower"],
                    "upper": row["upper"],
                    "confidence": workshop.confidence,
                }
            )
        people.append(told)
    if not people:
        raise EstimateError("no component was renewed for cause: nothing comes back")
    return Answer(
        "Failures that come back: how many a vehicle gathers",
        pl.DataFrame(people),
        pl.DataFrame(rows),
        (
            "Mean cumulative function, all positions and grades together, original and renewed "
            "alike; its variance is by vehicle (Lawless & Nadeau 1995). Degraded findings that "
            "led to renewal count as failures.",
        ),
    )


def rule_answer(workshop: Workshop) -> Answer:
    """The B10 life of each component under each observation rule, the naive one last."""
    rows, people = [], []
    by_rule = {name: curves_under(workshop, rule) for name, rule in RULES.items()}
    for component in workshop.catalogue.components:
        told = {"component": component}
        for name, curves in by_rule.items():
            curve = curves.get(component)
            if curve is None:
                told[name] = "none watched"
                continue
            b10 = b10_life(curve, confidence=workshop.confidence)
            told[name] = f"{estimate_text(b10)} {curve.counts.unit}"
            rows.append(
                {
                    "component": component,
                    "rule": name,
                    "unit": curve.counts.unit,
                    "failures": int(curve.counts.n_failures),
                    **{f"b10_{part}": getattr(b10, part) for part in BOUNDS},
                }
            )
        people.append(told)
    return Answer(
        "B10 life under each observation rule",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        tuple(f"{name}: {rule.sentence()}." for name, rule in RULES.items()),
    )
