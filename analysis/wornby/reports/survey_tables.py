"""Numbers of answers by version and by model year, and curves, as far as they may be published."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import polars as pl

from wornby.errors import EstimateError
from wornby.reports.amounts import amount, percent
from wornby.reports.answer import Answer
from wornby.reports.survey_answers import years_text
from wornby.survey.figures_told import SHARE_STEPS
from wornby.survey.lives import SurveyLives
from wornby.survey.publication import Publication
from wornby.survey.steps_shown import publishable_steps
from wornby.survey.thresholds import Thresholds

WITHHELD = "not shown"
METHOD = "How the survey was done"
"""The heading of the club's letter under which it says what is withheld."""
WORDS = {
    "answers": "answers",
    "renewed": "renewed",
    "original": "still original",
    "unsure": "don't know",
}


def counts_text(told: Mapping[str, Any]) -> dict[str, str]:
    """The numbers of answers as people read them; and the share renewed, where there is one."""
    said = {
        word: WITHHELD if told[name] is None else f"{told[name]:,}" for name, word in WORDS.items()
    }
    if "share" in told:
        share = told["share"]
        about = "" if told["share_rounded_to"] == SHARE_STEPS[0] else "about "
        said["renewed, weighted"] = WITHHELD if share is None else about + percent(share)
    return said


def hiding_note(thresholds: Thresholds) -> str:
    """What is withheld, and how surely."""
    return (
        f"Not shown: numbers below {thresholds.minimum_cell}, findings on fewer than "
        f"{thresholds.minimum_base} answers, and so many others that nobody can work these out: "
        f"from all that is shown, each could differ by {thresholds.protection} or more."
    )


def why_once(answer: Answer, thresholds: Thresholds, *, elsewhere: Sequence[str] = ()) -> Answer:
    """The table for a letter that says in one place, under `METHOD`, what is withheld and why.

    Notes said `elsewhere` are left out as well.
    """
    said = (hiding_note(thresholds), *elsewhere)
    notes = tuple(note for note in answer.notes if note not in said)
    if any(text == WITHHELD for column in answer.people for text in column):
        notes += (f'Not shown: "{METHOD}" says why.',)
    return replace(answer, notes=notes)


def with_few_digits(answer: Answer) -> Answer:
    """The answer with typed numbers to three significant digits: more could tell of the few."""
    return replace(answer, frame=answer.frame.with_columns(pl.col(pl.Float64).round_sig_figs(3)))


def version_count_answer(published: Publication) -> Answer:
    """What was said of each component by version."""
    return _count_answer(published, published.by_version, "version", "version")


def model_year_count_answer(published: Publication) -> Answer:
    """What was said of each component by model year, small neighbours put together."""
    spans = published.by_years.with_columns(
        pl.struct("model_year_from", "model_year_to")
        .map_elements(lambda span: years_text(*span.values()), return_dtype=pl.String)
        .alias("model years")
    )
    return _count_answer(published, spans, "model years", "model year")


def _count_answer(published: Publication, table: pl.DataFrame, column: str, by: str) -> Answer:
    if table.is_empty():
        raise EstimateError(f"too few answers to tell any component apart by {by}")
    people = [
        {"component": row["component"], column: row[column], **counts_text(row)}
        for row in table.to_dicts()
    ]
    whole = published.by_component.height - table["component"].n_unique()
    notes = [
        "Numbers of answers as given, not weighted: older vehicles had more time to need a part.",
        hiding_note(published.thresholds),
    ]
    if whole:
        notes.append(f"Too few answers to tell apart by {by}: components, {whole}.")
    return Answer(
        f"What owners said, by {by}",
        pl.DataFrame(people),
        table.drop("model years", strict=False),
        tuple(notes),
    )


def survey_curve_answer(lives: SurveyLives, published: Publication) -> Answer:
    """By age or distance, how many still have the original part, where enough are watched."""
    rows = []
    for component in published.by_component.filter("lives_shown")["component"].to_list():
        of_one = lives.lives.filter(component=component)
        counts = lives.counts[component]
        steps = publishable_steps(counts, of_one, published.thresholds)
        if steps.height > 1:
            named = {"component": component, "unit": counts.unit}
            rows += [named | step for step in steps.to_dicts()]
    if not rows:
        raise EstimateError("no component has a curve that may be shown: too few lives ended")
    people = [
        {
            "component": row["component"],
            "at": f"{amount(row['at'], row['unit'])} {row['unit']}",
            "still original": percent(row["survival"]),
            "watched, at least": f"{row['watched']:,}",
        }
        for row in rows
    ]
    return Answer(
        "Still original by age or distance, as owners tell",
        pl.DataFrame(people),
        pl.DataFrame(rows),
        (
            f"Rule: {lives.rule.sentence()}.",
            f"Turnbull's curve of weighted answers (Turnbull 1976). It falls only once "
            f"{published.thresholds.minimum_cell} more parts were renewed, and breaks off where "
            f"fewer than {published.thresholds.minimum_base} are watched; its interval is that of "
            "the lives by component.",
        ),
    )
