"""`wornby inspect`: how often to look at what, and what each way of looking catches."""

import argparse

from wornby.commands.asked import opened, show

CATCH_SHARE = 0.5


def inspect_options(inspect: argparse.ArgumentParser) -> None:
    """What `inspect` may be told."""
    inspect.add_argument(
        "--share",
        type=float,
        default=CATCH_SHARE,
        help=f"of defects to catch before they fail (default {CATCH_SHARE:g})",
    )


def run_inspect(asked: argparse.Namespace) -> None:
    """Say how often to look at what, and what each way of looking would catch."""
    import wornby

    show(asked, wornby.looking_answers(opened(asked), share=asked.share).answers)
