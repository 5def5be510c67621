"""Answers on a club's survey: who answered, and for how many vehicles they speak."""

import polars as pl

from wornby.reports.amounts import PER_CENT
from wornby.reports.answer import ALL, Answer
from wornby.survey.cells import LEAST_ANSWERS
from wornby.survey.weighted import NOT_ON_THE_ROAD, WeightedSurvey


def who_answered_answer(survey: WeightedSurvey) -> Answer:
    """Who answered, by model year and version, against the vehicles on the road.

    Cells come as `weighted_survey` made them, none with fewer than `LEAST_ANSWERS` answers; no
    respondent has a row.
    """
    total = survey.cells.select(
        pl.col("model_year_from").min(),
        pl.col("model_year_to").max(),
        pl.lit(ALL).alias("version"),
        pl.col("on_the_road").sum(),
        pl.col("answered").sum(),
        pl.lit(1.0).alias("weight"),
    )
    frame = pl.concat([survey.cells, total]).with_columns(
        share=pl.col("answered") / pl.col("on_the_road")
    )
    people = [
        {
            "model years": _years(row["model_year_from"], row["model_year_to"]),
            "version": row["version"],
            "on the road": f"{row['on_the_road']:,.0f}",
            "answered": f"{row['answered']:,}",
            "share": f"{100 * row['share']:.1f}{PER_CENT}",
            "one answer counts as": f"{row['weight']:.2f}",
        }
        for row in frame.to_dicts()
    ]
    return Answer(
        f"Who answered, and the vehicles on the road in {survey.calendar_year}",
        pl.DataFrame(people),
        frame,
        _notes(survey),
    )


def _years(first: int, last: int) -> str:
    return str(first) if first == last else f"{first} to {last}"


def _notes(survey: WeightedSurvey) -> tuple[str, ...]:
    years, versions = survey.groups
    aside = survey.ledger.set_aside.get(NOT_ON_THE_ROAD, 0)
    joined = [name for name in survey.cells["version"].unique().sort() if " or " in name]
    notes = [
        f"{survey.answers.height:,} answers, once weighted, are worth "
        f"{survey.effective_sample_size:.0f} of equal weight (effective sample size, Kish 1965).",
        f"Weights bring the answers to the vehicles on the road in {survey.calendar_year} by "
        f"model year (groups: {years}) and by version (groups: {versions}) by raking (Deming & "
        f"Stephan 1940), which settled in {survey.raked.sweeps} rounds: every total is met "
        f"within {survey.raked.miss:.0e} of the whole.",
        f"Model years are put together until each cell shown has {LEAST_ANSWERS} answers.",
        "Weights mend which model years and versions answered. They do not mend that owners "
        "with trouble may answer more.",
    ]
    if joined:
        notes.append(f"Too few answered to tell apart: {'; '.join(joined)}.")
    if aside:
        notes.append(
            f"{aside:,} answers have no weight: {NOT_ON_THE_ROAD}. Mend the year or the version, "
            "by [file.words.version] in layout.toml where it is the wording."
        )
    return tuple(notes)
