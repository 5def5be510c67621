"""`wornby price`: which jobs to offer at a fixed price, and at what price."""

import argparse

from wornby.commands.asked import opened, show


def run_price(asked: argparse.Namespace) -> None:
    """Say which jobs to offer at a fixed price."""
    from wornby.reports.price_answers import price_answer

    show(asked, [price_answer(opened(asked))])
