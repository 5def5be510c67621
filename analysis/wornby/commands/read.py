"""`wornby read`: what the records hold, what was not used and why."""

import argparse

from wornby.commands.asked import opened, show


def run_read(asked: argparse.Namespace) -> None:
    """Say what the records hold, what was not used and why."""
    import polars as pl

    from wornby.records.lives import holds_lives, read_lives
    from wornby.reports import records_answers as told
    from wornby.survey.answers import holds_survey, read_survey

    if holds_lives(asked.folder):
        lives = read_lives(asked.folder)
        show(
            asked,
            [
                told.ledger_answer([lives.ledger]),
                told.problem_answer(lives.problems, at_the_door=True),
            ],
        )
        return
    workshop = opened(asked)
    records = workshop.records
    survey = read_survey(asked.folder) if holds_survey(asked.folder) else None
    problems = [records.problems] if survey is None else [records.problems, survey.problems]
    ledgers = (*workshop.ledgers, *(() if survey is None else survey.ledgers))
    show(
        asked,
        [
            told.coverage_answer(records),
            told.ledger_answer(ledgers),
            told.problem_answer(pl.concat(problems), at_the_door=True),
            told.unplaced_answer(records.unplaced),
        ],
    )
