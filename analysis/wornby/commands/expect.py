"""`wornby expect`: failures and jobs to come, and the stock to keep for them."""

import argparse

from wornby.commands.asked import opened, show

MONTHS = (3, 6, 12)
EXPECT_ANSWERS = ("failure", "stock")


def expect_options(expect: argparse.ArgumentParser) -> None:
    """What `expect` may be asked."""
    expect.add_argument(
        "--months", type=int, choices=MONTHS, help=f"how far ahead (default {MONTHS[-1]})"
    )
    expect.add_argument(
        "--by",
        choices=EXPECT_ANSWERS,
        default="failure",
        help="failures and jobs to come, or the stock to keep for them",
    )


def run_expect(asked: argparse.Namespace) -> None:
    """Say what failures and jobs to expect, or what to keep on the shelf for them."""
    import wornby

    if asked.by == "stock":
        if asked.months is not None:
            raise ValueError("--months goes with --by failure; stock looks a lead time ahead")
        show(asked, [wornby.stock_answer(opened(asked))])
        return
    months = MONTHS[-1] if asked.months is None else asked.months
    show(asked, [wornby.expected_answer(opened(asked), months=months)])
