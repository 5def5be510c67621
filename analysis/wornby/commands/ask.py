"""`wornby ask`: a club's questions to its members, ready to hand round."""

import argparse
from pathlib import Path

from wornby.commands.asked import show_written


def ask_options(ask: argparse.ArgumentParser) -> None:
    """What `ask` must be told, and of which components."""
    ask.add_argument("folder", type=Path, help="folder with workshop.toml")
    ask.add_argument("--to", type=Path, required=True, help="folder to write the questions to")
    ask.add_argument(
        "--component",
        action="append",
        default=[],
        help="ask of this component; repeatable (default: all of workshop.toml)",
    )


def run_ask(asked: argparse.Namespace) -> None:
    """Write the questions, and the layout that reads the answers."""
    from wornby.survey.asking import write_questions

    show_written(asked, write_questions(asked.folder, asked.to, components=asked.component))
