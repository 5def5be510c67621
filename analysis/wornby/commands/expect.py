"""`wornby expect`: failures and jobs to come, and the stock to keep for them."""

import argparse

from wornby.commands.asked import opened, show

MONTHS = (3, 6, 12)
LOOKS_AHEAD = {"month": "months are the next twelve", "stock": "stock looks a lead time ahead"}
EXPECT_ANSWERS = ("failure", "month", "stock")


def expect_options(expect: argparse.ArgumentParser) -> None:
    """What `expect` may be asked."""
    expect.add_argument(
        "--months", type=int, choices=MONTHS, help=f"how far ahead (default {MONTHS[-1]})"
    )
    expect.add_argument(
        "--by",
        choices=EXPECT_ANSWERS,
        default="failure",
        help="failures and jobs to come, failures month by month, or the stock to keep for them",
    )


def run_expect(asked: argparse.Namespace) -> None:
    """Say what failures and jobs to expect, or what to keep on the shelf for them."""
    import wornby

    others = {"month": wornby.month_answer, "stock": wornby.stock_answer}
    if asked.by in others:
        if asked.months is not None:
            raise ValueError(f"--months goes with --by failure; {LOOKS_AHEAD[asked.by]}")
        show(asked, [others[asked.by](opened(asked))])
        return
    months = MONTHS[-1] if asked.months is None else asked.months
    show(asked, [wornby.expected_answer(opened(asked), months=months)])
