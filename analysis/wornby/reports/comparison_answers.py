"""Answers by comparison: part grades, observation rules, and failures that come back."""

from dataclasses import replace
from functools import lru_cache
from typing import Any

import polars as pl

from wornby.curves.contrasts import holm
from wornby.curves.grades import GradeLife, grade_lives
from wornby.curves.recurrence import mean_cumulative_function
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.recurring import recurrences
from wornby.reports.amounts import estimate_text
from wornby.reports.answer import Answer
from wornby.reports.life_answers import BOUNDS
from wornby.reports.sentences import SURE
from wornby.reports.version_answers import UNSURE, p_cells
from wornby.reports.workshop import Workshop

EARLY_MONTHS = 24
RECURRENCE_AGES = (10, 15, 20)
FEWEST_AT_RISK = 5
HOW_SURE = {0.001: "beyond doubt", 0.01: "clear", SURE: "likely"}
"""What a difference is called whose p-value is below this."""
TESTED = (
    "Against whom: each grade against all other grades of its component together, by the log-rank "
    "test, which takes every part by itself; p is that of the one test, beside it what it is held "
    "to account for all {n} (Holm 1979). Where one grade is bad, the others of its component are "
    "each set against a group that has it. Grades against genuine parts alone are another "
    "question, told in another table, and its verdict need not be this one. Failed within "
    "{months} months: Kaplan-Meier, log-log limits of {level:.0%} by part; where none had, “at "
    "most” is one-sided, at the same level."
)
IN_WORDS = (
    "How sure: chance alone would make so large a difference less than once in 1,000 times where "
    "it is called beyond doubt, in 100 where clear, in 20 where likely, all {n} comparisons "
    "counted; what is less sure than that is not enough to tell."
)


@lru_cache(maxsize=4)
def grade_answer(workshop: Workshop, *, p_values: bool = False) -> Answer:
    """Renewed parts by grade, each against the others of its component.

    How surely they differ is said in words, or with `p_values` by these; the typed table has both.
    """
    lives = [
        life
        for name in workshop.catalogue.components
        for life in grade_lives(
            workshop.episodes, name, early_months=EARLY_MONTHS, confidence=workshop.confidence
        )
    ]
    if not lives:
        return _no_grades()
    tested = [life.p_value for life in lives if life.p_value is not None]
    held = iter(holm(tested))
    each = [(life, None if life.p_value is None else next(held)) for life in lives]
    rows = [_typed_grade(life, p) for life, p in each]
    people = [_people_grade(life, p, p_values=p_values) for life, p in each]
    words = TESTED if p_values else IN_WORDS
    return Answer(
        "Renewed parts by grade" + (", each against all the others" if p_values else ""),
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            f"A part counts as failed once it has {workshop.episodes.rule.failed}. "
            + words.format(n=len(tested), months=EARLY_MONTHS, level=workshop.confidence),
            f"Rule: {workshop.episodes.rule.sentence()}.",
        ),
    )


def grades_told_apart(grades: Answer) -> Answer:
    """The grades that differ from the others of their component, of a `grade_answer`.

    A note says how many more there are.
    """
    differs = grades.frame["p_value_held"] < SURE
    differs = differs.fill_null(value=False)
    n, rest = int(differs.sum()), grades.frame.height - int(differs.sum())
    if not rest or not n:
        return grades
    left = f"Of {rest} other {'grade' if rest == 1 else 'grades'} there is not enough to tell"
    return replace(
        grades,
        people=grades.people.filter(differs),
        frame=grades.frame.filter(differs),
        notes=(f"{left}; `wornby life FOLDER --by grade` shows them as well.", *grades.notes),
    )


def grades_that_fail_sooner(workshop: Workshop) -> dict[tuple[str, str], str]:
    """How surely a component's grade fails sooner than its others, for each that does."""
    sooner = grade_answer(workshop).frame.filter(
        (pl.col("p_value_held") < SURE)
        & (pl.col("failures_per_100_years") > pl.col("others_per_100_years"))
    )
    return {(r["component"], r["grade"]): r["how_sure"] for r in sooner.to_dicts()}


def _no_grades() -> Answer:
    """What is said where no line tells the grade of a renewed part: a report goes on without."""
    numbers = (
        "service_years", "failures_per_100_years", "others_per_100_years",
        *(f"early_share_{part}" for part in BOUNDS), "p_value", "p_value_held",
    )  # fmt: skip
    schema = {"component": pl.String, "grade": pl.String, **dict.fromkeys(numbers, pl.Float64)}
    why = "No renewed part of known grade was watched: nothing to compare."
    return Answer(
        "Renewed parts by grade: none", pl.DataFrame({"what": [why]}), pl.DataFrame(schema=schema)
    )


def _per_100(failures: float, years: float) -> float | None:
    return 100 * failures / years if years else None


def _typed_grade(life: GradeLife, p_value: float | None) -> dict[str, Any]:
    return {
        "component": life.component,
        "grade": life.grade,
        "fitments": life.fitments,
        "failures": life.failures,
        "service_years": life.years,
        "failures_per_100_years": _per_100(life.failures, life.years),
        "others_per_100_years": _per_100(life.others_failures, life.others_years),
        **{f"early_share_{part}": getattr(life.early, part) for part in BOUNDS},
        "p_value": life.p_value,
        "p_value_held": p_value,
        "how_sure": "" if p_value is None else surely(p_value),
        "note": life.reason,
    }


def _people_grade(life: GradeLife, p_value: float | None, *, p_values: bool) -> dict[str, str]:
    ours = _per_100(life.failures, life.years)
    others = _per_100(life.others_failures, life.others_years)
    return {
        "component": life.component,
        "grade": life.grade,
        "against the others": _difference(life, p_value, in_words=not p_values),
        **(p_cells(life.p_value, p_value) if p_values else {}),
        "failures in 100 years of service": "" if ours is None else f"{ours:.1f}",
        "of the others": "" if others is None else f"{others:.1f}",
        f"failed within {EARLY_MONTHS} months": _early_text(life.early),
        "fitted": f"{life.fitments:.0f}",
        "failed": f"{life.failures:.0f}",
    }


def _early_text(early: Estimate) -> str:
    """The share failed early; where none had, the most that they allow."""
    return estimate_text(early if early.value else replace(early, value=None))


def surely(p_value: float) -> str:
    """How sure a difference is, in words.

    >>> surely(0.0002), surely(0.03), surely(0.2)
    ('beyond doubt', 'likely', 'not enough to tell')
    """
    return next((word for below, word in HOW_SURE.items() if p_value < below), UNSURE)


def _difference(life: GradeLife, p_value: float | None, *, in_words: bool) -> str:
    ours = _per_100(life.failures, life.years)
    others = _per_100(life.others_failures, life.others_years)
    if p_value is None or ours is None or others is None:
        return life.reason
    if p_value >= SURE:
        return UNSURE
    way = "fails sooner" if ours > others else "lasts longer"
    return f"{way} ({surely(p_value)})" if in_words else way


def recurrence_answer(workshop: Workshop) -> Answer:
    """How many failures of each component a vehicle has gathered by an age, on average."""
    rows: list[dict[str, Any]] = []
    people = []
    for component in workshop.catalogue.components:
        history = recurrences(workshop.records, component)
        if history["failed"].any():
            counted = _gathered(history, workshop.confidence)
            rows += [{"component": component, **row} for row in counted]
            seen = {"component": component, "failures seen": str(int(history["failed"].sum()))}
            people.append(seen | {f"by {r['age_years']} years": _people_mean(r) for r in counted})
    if not people:
        raise EstimateError("no component was renewed for cause: nothing comes back")
    return Answer(
        "Failures that come back: how many a vehicle gathers",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            "Mean cumulative function, all positions and grades together, original and renewed "
            "alike. Limits are pointwise "
            f"{workshop.confidence:.0%} ones, symmetric on the logarithm, their variance by "
            "vehicle (Lawless & Nadeau 1995). Degraded findings that "
            "led to renewal count as failures.",
        ),
    )


def _gathered(history: pl.DataFrame, confidence: float) -> list[dict[str, Any]]:
    """The mean number by each age, or why there is none."""
    mean = mean_cumulative_function(history, confidence=confidence).table
    oldest = float(history["age"].max())  # type: ignore[arg-type]  # never empty
    told = []
    for age in RECURRENCE_AGES:
        reached = mean.filter(pl.col("age") <= age).tail(1).to_dicts()
        row = reached[0] if reached else {}
        note = ""
        if age > oldest:
            note = "not watched so long"
        elif not row:
            note = "none seen"
        elif row["at_risk"] < FEWEST_AT_RISK:
            note = f"fewer than {FEWEST_AT_RISK} vehicles watched"
        values = {name: None if note else row[name] for name in ("mean", "lower", "upper")}
        told.append({"age_years": age, **values, "confidence": confidence, "note": note})
    return told


def _people_mean(row: dict[str, Any]) -> str:
    if row["note"]:
        return str(row["note"])
    return f"{row['mean']:.2f} ({row['lower']:.2f} to {row['upper']:.2f})"
