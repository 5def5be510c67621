"""`wornby start`: a folder to fill, or the layout of one that holds exports."""

import argparse
import secrets
from datetime import date
from pathlib import Path

from wornby.commands.asked import show


def start_options(start: argparse.ArgumentParser) -> None:
    """What `start` must be told."""
    start.add_argument("folder", type=Path, help="folder to make, or one with your exports")


def run_start(asked: argparse.Namespace) -> None:
    """Write what a folder lacks, and say what its files were taken for."""
    from wornby.records.starting import start_folder
    from wornby.reports.start_answers import guess_answer, started_answer

    key = secrets.token_hex(16)
    started = start_folder(asked.folder, today=date.today(), pseudonym_key=key)
    guessed = [guess_answer(started.proposal)] if started.proposal.guesses else []
    show(asked, [started_answer(asked.folder, started), *guessed])
