"""The word `explain`: what a number in the tables means."""

import argparse


def explain_options(explain: argparse.ArgumentParser) -> None:
    """What `explain` may be asked."""
    explain.add_argument("word", nargs="?", help="a number as reports name it (default: all)")


def run_explain(asked: argparse.Namespace) -> None:
    """Say what numbers mean, for the owner and for the statistician, with sources."""
    from wornby.commands.asked import show
    from wornby.reports.methods import explained, method_answer

    if asked.json:
        show(asked, [method_answer(asked.word)])
    else:
        print(explained(asked.word))
