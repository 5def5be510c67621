"""`wornby renew`: when to renew, alone or while a job is open."""

import argparse

from wornby.commands.asked import HORIZON_YEARS, opened, show, years_renewed

RENEW_ANSWERS = {"age": "renewal_age_answer", "policy": "policy_answer"}
"""What `wornby renew --by` may ask for, and the public name that answers."""


def renew_options(renew: argparse.ArgumentParser) -> None:
    """What `renew` may be asked, and told of the vehicle on the ramp."""
    renew.add_argument(
        "--by",
        choices=tuple(RENEW_ANSWERS),
        default="age",
        help="the age to renew each part at, or the policies beside one another",
    )
    renew.add_argument("--group", help="access group that a job has open")
    renew.add_argument("--age", type=float, help="age of the vehicle in years (with --group)")
    renew.add_argument("--failed", help="component that has failed and is renewed anyway")
    renew.add_argument(
        "--degraded", action="append", default=[], help="component found degraded; repeatable"
    )
    renew.add_argument(
        "--horizon",
        type=float,
        help=f"years the owner means to keep the vehicle (default {HORIZON_YEARS:g})",
    )
    renew.add_argument(
        "--miles-per-year", type=float, help="default: the median vehicle in the book"
    )
    renew.add_argument(
        "--renewed",
        action="append",
        default=[],
        metavar="COMPONENT=YEARS",
        help="years since a part of the group was renewed, where it is not original; repeatable",
    )


def run_renew(asked: argparse.Namespace) -> None:
    """Say when to renew, and what else while a job is open."""
    import wornby
    from wornby.reports import while_open_answers as told
    from wornby.reports.ramp import Ramp, while_open_advice
    from wornby.reports.workshop import pace_of

    only_with_group = ("age", "failed", "horizon", "miles_per_year", "degraded", "renewed")
    given = [name for name in only_with_group if getattr(asked, name) not in (None, [])]
    if asked.group is None and given:
        raise ValueError(f"--{given[0].replace('_', '-')} goes with --group")
    if asked.group is not None and asked.age is None:
        raise ValueError("--group needs --age, the age of the vehicle in years")
    if asked.group is not None and asked.by != "age":
        raise ValueError(f"--by {asked.by} asks of all components; --group of one access")
    workshop = opened(asked)
    if asked.group is None:
        show(asked, [getattr(wornby, RENEW_ANSWERS[asked.by])(workshop)])
        return
    pace = pace_of(workshop) if asked.miles_per_year is None else asked.miles_per_year
    horizon = HORIZON_YEARS if asked.horizon is None else asked.horizon
    ramp = Ramp(asked.age, pace, horizon, years_renewed(asked.renewed))
    advice = while_open_advice(
        workshop, asked.group, ramp, failed=asked.failed, degraded=frozenset(asked.degraded)
    )
    show(asked, [told.bundle_answer(workshop, advice), told.card_answer(workshop, advice)])
