"""How long parts last as owners tell, by what their answers are taken to say."""

from collections.abc import Mapping

import polars as pl

from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import Counts
from wornby.reports.amounts import with_unit
from wornby.reports.answer import Answer
from wornby.reports.survey_life_answers import (
    BOUNDS,
    SHARES,
    few_digits,
    told_b_life,
    told_curve,
)
from wornby.survey.answers import Survey
from wornby.survey.lives import SurveyLives, survey_lives
from wornby.survey.survey_rules import SurveyRule, survey_variants
from wornby.survey.thresholds import Thresholds


def survey_rule_answer(
    survey: Survey,
    *,
    rule: SurveyRule,
    weights: pl.DataFrame | None,
    confidence: float,
    thresholds: Thresholds,
) -> Answer:
    """Each component's B10 life under the rule, and under each that differs in one choice."""
    rules = {"as chosen": rule, **survey_variants(rule)}
    if not _reasons_told(survey):
        rules = {name: r for name, r in rules.items() if r.life_ends == rule.life_ends}
    columns = _by_rule(survey, rules, weights, confidence=confidence, thresholds=thresholds)
    kept = {name: row for name, row in columns.items() if row["as chosen"] is not None}
    if not kept:
        raise EstimateError(
            f"no component has {thresholds.minimum_base} lives, {thresholds.minimum_cell} of them "
            "ended: nothing is shown"
        )
    people = [
        {"component": component}
        | {name: "" if e is None else with_unit(e) for name, e in row.items()}
        for component, row in kept.items()
    ]
    rows = [
        {"component": component, "rule": name, **{b: few_digits(getattr(e, b)) for b in BOUNDS}}
        for component, row in kept.items()
        for name, e in row.items()
        if e is not None
    ]
    return Answer(
        "B10 life as owners tell, by what their answers are taken to say",
        pl.DataFrame(people),
        pl.DataFrame(rows, infer_schema_length=None),
        (
            f"As chosen: {rule.sentence()}.",
            f"Empty: fewer than {thresholds.minimum_base} lives left, or fewer than "
            f"{thresholds.minimum_cell} of them ended.",
        ),
    )


def _by_rule(
    survey: Survey,
    rules: Mapping[str, SurveyRule],
    weights: pl.DataFrame | None,
    *,
    confidence: float,
    thresholds: Thresholds,
) -> dict[str, dict[str, Estimate | None]]:
    """Of each component the B10 life under each rule; none where it may not be shown."""
    columns: dict[str, dict[str, Estimate | None]] = {}
    for name, other in rules.items():
        lives = survey_lives(survey, rule=other, weights=weights)
        ample = _ample(lives, thresholds)
        for component in lives.told["component"].to_list():
            columns.setdefault(component, {})[name] = (
                _b10_of(component, lives.counts[component], confidence)
                if component in ample
                else None
            )
    return columns


def _reasons_told(survey: Survey) -> bool:
    """Whether any respondent said why a part was renewed."""
    told = survey.components
    return told is not None and bool((told.renewals["why"] != "unknown").any())


def _ample(lives: SurveyLives, thresholds: Thresholds) -> set[str]:
    """The components with lives, and ended ones, enough to be spoken of."""
    counted = lives.lives.group_by("component").agg(
        n=pl.len(), ended=pl.col("upper").is_finite().sum()
    )
    enough = (pl.col("n") >= thresholds.minimum_base) & (pl.col("ended") >= thresholds.minimum_cell)
    return set(counted.filter(enough)["component"].to_list())


def _b10_of(component: str, counts: Counts, confidence: float) -> Estimate:
    curve = told_curve(component, counts, "original", confidence)
    return told_b_life(curve, SHARES["b10"], confidence)
