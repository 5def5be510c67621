"""`wornby read`: what the records hold, what was not used and why, what would help most."""

import argparse
from typing import TYPE_CHECKING

from wornby.commands.asked import opened, show
from wornby.errors import RecordError

if TYPE_CHECKING:
    from wornby.reports.answer import Answer

MOST_EDITS = 3


def run_read(asked: argparse.Namespace) -> None:
    """Say what the records hold, what was not used and why, and what would help most."""
    from wornby.records.lives import holds_lives, read_lives
    from wornby.reports import records_answers as told
    from wornby.reports.file_answers import file_answer

    if holds_lives(asked.folder):
        lives = read_lives(asked.folder)
        problems = told.problem_answer(lives.problems, at_the_door=True)
        show(asked, [file_answer(asked.folder), told.ledger_answer([lives.ledger]), problems])
        return
    if _is_club_alone(asked):
        show(asked, _of_club(asked))
        return
    try:
        show(asked, _of_workshop(asked))
    except RecordError:
        blank = _still_blank(asked)
        if blank is None:
            raise
        show(asked, [blank])


def _is_club_alone(asked: argparse.Namespace) -> bool:
    """Whether the folder holds a survey and no workshop's records."""
    from wornby.records.layout import read_layout

    tables = {layout.table for layout in read_layout(asked.folder / "layout.toml")}
    return "survey" in tables and not tables & {"vehicles", "job_lines"}


def _of_club(asked: argparse.Namespace) -> list["Answer"]:
    from wornby.reports import records_answers as told
    from wornby.reports.file_answers import file_answer
    from wornby.reports.survey_life_answers import unread_answer
    from wornby.reports.told_answers import renewals_told_answer
    from wornby.survey.answers import read_survey

    survey = read_survey(asked.folder)
    unread = [] if survey.components is None else [unread_answer(survey.components)]
    told_of = [] if survey.components is None else [renewals_told_answer(survey.components)]
    return [
        file_answer(asked.folder),
        told.ledger_answer(survey.ledgers),
        told.problem_answer(survey.problems, at_the_door=True),
        *told_of,
        *(answer for answer in unread if answer.people.height),
    ]


def _of_workshop(asked: argparse.Namespace) -> list["Answer"]:
    import polars as pl

    from wornby.records.edits import helpful_edits
    from wornby.records.layout import read_layout
    from wornby.reports import records_answers as told
    from wornby.reports.file_answers import file_answer
    from wornby.survey.answers import holds_survey, read_survey

    workshop = opened(asked)
    records = workshop.records
    survey = read_survey(asked.folder) if holds_survey(asked.folder) else None
    problems = [records.problems] if survey is None else [records.problems, survey.problems]
    ledgers = (*workshop.ledgers, *(() if survey is None else survey.ledgers))
    edits = helpful_edits(asked.folder, records, read_layout(asked.folder / "layout.toml"))
    return [
        file_answer(asked.folder),
        told.coverage_answer(records),
        told.ledger_answer(ledgers),
        told.problem_answer(pl.concat(problems), at_the_door=True),
        told.unplaced_answer(records.unplaced),
        told.edit_answer(edits, most=MOST_EDITS),
    ]


def _still_blank(asked: argparse.Namespace) -> "Answer | None":
    """Which tables are blank, where one is that lives cannot do without."""
    from wornby.records.layout import read_layout
    from wornby.records.loading import rows_of_tables
    from wornby.reports.start_answers import blank_answer

    rows = rows_of_tables(asked.folder, read_layout(asked.folder / "layout.toml"))
    filled = {table for table, _, n in rows if n}
    return None if {"vehicles", "job_lines"} <= filled else blank_answer(rows)
