"""`wornby price`: which jobs to offer at a fixed price, and at what price."""

import argparse
from typing import TYPE_CHECKING

from wornby.commands.asked import opened, show

if TYPE_CHECKING:
    from wornby.reports.answer import Answer

PRICE_ANSWERS = {
    "job": "price_answer",
    "version": "price_version_answer",
    "found": "found_work_answer",
    "record": "record_value_answer",
}
"""What `wornby price --by` may ask for, and the public name that answers."""


def price_options(price: argparse.ArgumentParser) -> None:
    """What `price` may be asked."""
    price.add_argument(
        "--by",
        choices=tuple(PRICE_ANSWERS),
        default="job",
        help="the jobs, each by version, what they may turn up, or what more records are worth",
    )
    price.add_argument(
        "--job", help="one job in full: a ladder of prices, what it costs and may turn up"
    )


def run_price(asked: argparse.Namespace) -> None:
    """Say which jobs to offer at a fixed price, or all of one job."""
    import wornby

    if asked.job is not None and asked.by != "job":
        raise ValueError(f"--by {asked.by} asks of all jobs; --job of one, in full")
    workshop = opened(asked)
    if asked.job is None:
        show(asked, [getattr(wornby, PRICE_ANSWERS[asked.by])(workshop)])
        return
    answers: list[Answer] = [
        wornby.price_ladder_answer(workshop, asked.job),
        wornby.price_makeup_answer(workshop, asked.job),
        wornby.found_work_answer(workshop, asked.job),
        wornby.record_value_answer(workshop, asked.job),
    ]
    show(asked, answers)
