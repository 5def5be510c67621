"""Worn by what age? A workshop's job records into failure-age curves, and curves into decisions.

The names that notebooks use are here; each is imported when it is first asked for.
"""

from importlib import import_module
from typing import Any

HOMES = {
    "open_workshop": "wornby.reports.workshop",
    "read_lives": "wornby.records.lives",
    "pasted_table": "wornby.records.pasted",
    "read_records": "wornby.records.reading",
    "read_survey": "wornby.survey.answers",
    "survey_lives": "wornby.survey.lives",
    "publishable_numbers": "wornby.survey.publication",
    "read_thresholds": "wornby.survey.thresholds",
    "weighted_survey": "wornby.survey.weighted",
    "owner_findings": "wornby.reports.sentences",
    "analyst_findings": "wornby.reports.sentences",
    "cautions": "wornby.reports.sentences",
    "where_stated": "wornby.reports.sentences",
    "life_answer": "wornby.reports.life_answers",
    "renewed_life_answer": "wornby.reports.life_answers",
    "few_failures_answer": "wornby.reports.few_answers",
    "weibull_answer": "wornby.reports.life_answers",
    "fit_answer": "wornby.reports.fit_answers",
    "rivals_answer": "wornby.reports.fit_answers",
    "most_doubtful": "wornby.reports.fit_answers",
    "scale_answer": "wornby.reports.scale_answers",
    "draw_probability_plot": "wornby.reports.fit_figures",
    "interval_answer": "wornby.reports.uncertainty_answers",
    "band_answer": "wornby.reports.uncertainty_answers",
    "distance_doubt_answer": "wornby.reports.distance_answers",
    "pace_answer": "wornby.reports.distance_answers",
    "read_population": "wornby.survey.answers",
    "road_answers": "wornby.reports.population_answers",
    "population_answer": "wornby.reports.population_answers",
    "population_rate_answer": "wornby.reports.population_answers",
    "reconciliation_answer": "wornby.reports.population_answers",
    "ending_answer": "wornby.reports.ending_answers",
    "version_answer": "wornby.reports.version_answers",
    "effect_answer": "wornby.reports.effect_answers",
    "comeback_answer": "wornby.reports.repeat_answers",
    "trend_answer": "wornby.reports.repeat_answers",
    "grade_answer": "wornby.reports.comparison_answers",
    "rule_trial_answer": "wornby.reports.trial_answers",
    "interval_trial_answer": "wornby.reports.trial_answers",
    "decision_trial_answers": "wornby.reports.decision_trials",
    "recurrence_answer": "wornby.reports.comparison_answers",
    "rule_answer": "wornby.reports.rule_answers",
    "sensitivity_answer": "wornby.reports.rule_answers",
    "renewal_age_answer": "wornby.reports.renewal_answers",
    "policy_answer": "wornby.reports.policy_answers",
    "draw_cost_rate": "wornby.reports.decision_figures",
    "while_open_advice": "wornby.reports.ramp",
    "bundle_answer": "wornby.reports.while_open_answers",
    "busiest_group_advice": "wornby.reports.ramp",
    "Ramp": "wornby.reports.ramp",
    "against_answer": "wornby.reports.while_open_answers",
    "ramp_card_answer": "wornby.reports.ramp_card",
    "draw_ramp_card": "wornby.reports.ramp_card",
    "price_answer": "wornby.reports.price_answers",
    "price_version_answer": "wornby.reports.price_version_answers",
    "price_ladder_answer": "wornby.reports.price_ladder_answers",
    "price_makeup_answer": "wornby.reports.price_makeup_answers",
    "found_work_answer": "wornby.reports.price_makeup_answers",
    "record_value_answer": "wornby.reports.record_value_answers",
    "draw_price_ladder": "wornby.reports.price_figures",
    "expected_answer": "wornby.reports.expected_answers",
    "stock_answer": "wornby.reports.stock_answers",
    "grade_cost_answer": "wornby.reports.grade_cost_answers",
    "looking_answers": "wornby.reports.inspection_answers",
    "vehicle_asked_about": "wornby.reports.vehicle",
    "told_of": "wornby.reports.vehicle",
    "sheet_answers": "wornby.reports.vehicle_answers",
    "who_answered_answer": "wornby.reports.survey_answers",
    "survey_life_answer": "wornby.reports.survey_life_answers",
    "survey_share_answer": "wornby.reports.survey_share_answers",
    "nonresponse_findings": "wornby.reports.nonresponse_answers",
    "nonresponse_answer": "wornby.reports.nonresponse_answers",
    "draw_nonresponse": "wornby.reports.nonresponse_figures",
    "evidence_answer": "wornby.reports.evidence_answers",
    "survey_rule_answer": "wornby.reports.survey_rule_answers",
    "version_count_answer": "wornby.reports.survey_tables",
    "model_year_count_answer": "wornby.reports.survey_tables",
    "survey_curve_answer": "wornby.reports.survey_tables",
    "life_panel": "wornby.reports.panel",
    "vehicle_findings": "wornby.reports.vehicle_findings",
    "records_findings": "wornby.reports.records_findings",
    "page_edits_answer": "wornby.reports.records_findings",
    "meaning_answer": "wornby.reports.methods",
    "method_answer": "wornby.reports.methods",
    "file_answer": "wornby.reports.file_answers",
    "coverage_answer": "wornby.reports.records_answers",
    "ledger_answer": "wornby.reports.records_answers",
    "problem_answer": "wornby.reports.records_answers",
    "unplaced_answer": "wornby.reports.records_answers",
    "draw_lives": "wornby.reports.life_figures",
    "draw_prices": "wornby.reports.bar_figures",
    "draw_expected": "wornby.reports.bar_figures",
    "month_answer": "wornby.reports.month_answers",
    "draw_demand": "wornby.reports.demand_figures",
    "draw_account": "wornby.reports.account_figures",
    "draw_ranges": "wornby.reports.range_figures",
}
__all__ = [*HOMES]  # noqa: PLE0604  # the names are the table's


def __getattr__(name: str) -> Any:
    """Import a public name from its home."""
    if name not in HOMES:
        raise AttributeError(f"wornby has no {name!r}; it has {', '.join(__all__)}")
    return getattr(import_module(HOMES[name]), name)


def __dir__() -> list[str]:
    """The public names."""
    return __all__
