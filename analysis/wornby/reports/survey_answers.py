"""Answers on a club's survey: who answered, and for how many vehicles they speak."""

from collections.abc import Sequence

import polars as pl

from wornby.ledger import Ledger
from wornby.reports.amounts import PER_CENT
from wornby.reports.answer import ALL, Answer
from wornby.survey.groups_together import YEARS, shown_groups
from wornby.survey.thresholds import Thresholds
from wornby.survey.weighted import WeightedSurvey


def who_answered_answer(
    survey: WeightedSurvey, *, thresholds: Thresholds, ledgers: Sequence[Ledger] = ()
) -> Answer:
    """Who answered, by model year and version, against the vehicles on the road.

    Cells are put together until each is large enough to be shown; no respondent has a row.
    `ledgers` are those of the survey's answers before this one; how many answers none of them
    could use is told as one number.
    """
    cells = shown_groups(survey, thresholds).cells
    total = cells.select(
        pl.col(YEARS[0]).min(),
        pl.col(YEARS[1]).max(),
        pl.lit(ALL).alias("version"),
        pl.col("on_the_road").sum(),
        pl.col("answered").sum(),
        pl.lit(1.0).alias("weight"),
    )
    frame = pl.concat([cells, total]).with_columns(share=pl.col("answered") / pl.col("on_the_road"))
    people = [
        {
            "model years": years_text(row["model_year_from"], row["model_year_to"]),
            "version": row["version"],
            "on the road": f"{row['on_the_road']:,.0f}",
            "answered": f"{row['answered']:,}",
            "share": f"{100 * row['share']:.1f}{PER_CENT}",
            "one answer counts as": f"{row['weight']:.1f}",
        }
        for row in frame.to_dicts()
    ]
    return Answer(
        f"Who answered, and the vehicles on the road in {survey.calendar_year}",
        pl.DataFrame(people),
        frame,
        (*_notes(survey, cells, thresholds), *_unused([*ledgers, survey.ledger], thresholds)),
    )


def years_text(first: int, last: int) -> str:
    """One model year, or from which to which."""
    return str(first) if first == last else f"{first} to {last}"


def _notes(survey: WeightedSurvey, cells: pl.DataFrame, thresholds: Thresholds) -> tuple[str, ...]:
    years, versions = survey.groups
    joined = [name for name in cells["version"].unique().sort() if " or " in name]
    notes = [
        f"{survey.answers.height:,} answers, once weighted, are worth "
        f"{survey.effective_sample_size:.0f} of equal weight (effective sample size, Kish 1965).",
        f"Weights bring the answers to the vehicles on the road in {survey.calendar_year} by "
        f"model year (groups: {years}) and by version (groups: {versions}) by raking (Deming & "
        "Stephan 1940), which settled: every total is met.",
        f"Model years and versions are put together until each cell has {thresholds.minimum_cell} "
        "answers. That protects as long as one such table is published: those of two calendar "
        "years, side by side, could be subtracted.",
        "Weights mend which model years and versions answered. They do not mend that owners "
        "with trouble may answer more.",
    ]
    if joined:
        notes.append(f"Too few answered to tell apart: {'; '.join(joined)}.")
    return tuple(notes)


def _unused(ledgers: Sequence[Ledger], thresholds: Thresholds) -> tuple[str, ...]:
    """How many answers were not used; no small number is named."""
    unused = sum(ledger.n_read - ledger.n_accepted for ledger in ledgers)
    if not unused:
        return ()
    few = unused < thresholds.minimum_cell
    number = f"fewer than {thresholds.minimum_cell}" if few else f"{unused:,}"
    return (
        f"Answers not used, {number}: without a model year or a version, given twice, or for a "
        "vehicle of which none was on the road.",
    )
