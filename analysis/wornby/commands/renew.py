"""`wornby renew`: when to renew, alone or while a job is open."""

import argparse
from typing import TYPE_CHECKING

from wornby.commands.asked import HORIZON_YEARS, opened, show, years_renewed

if TYPE_CHECKING:
    from wornby.reports.answer import Answer
    from wornby.reports.workshop import Workshop

RENEW_ANSWERS = {"age": "renewal_age_answer", "policy": "policy_answer"}
"""What `wornby renew --by` may ask for of all records, and the public name that answers."""
CARD = "card"
OF_ONE_VEHICLE = (
    "age", "failed", "horizon", "distance_per_year", "degraded", "sound", "renewed", "discount",
    "exact",
)  # fmt: skip
OF_CARD = ("age", "horizon")


def renew_options(renew: argparse.ArgumentParser) -> None:
    """What `renew` may be asked."""
    renew.add_argument(
        "--by",
        choices=(*RENEW_ANSWERS, CARD),
        default="age",
        help="the age to renew each part at, the policies beside one another, or the card for the "
        "ramp: from what age each part is renewed while its access is open",
    )
    _ramp_options(renew)
    renew.add_argument(
        "--discount",
        type=float,
        metavar="RATE",
        help="how much less a year later counts: 0.04 is 4 %% (default none)",
    )
    renew.add_argument(
        "--exact",
        action="store_true",
        default=None,
        help="beside it, the exact programme for the middle curves (at most four places)",
    )


def _ramp_options(renew: argparse.ArgumentParser) -> None:
    """What may be told of the vehicle on the ramp and of the job that it is there for."""
    renew.add_argument("--group", help="access group that a job has open")
    renew.add_argument("--age", type=float, help="age of the vehicle in years (with --group)")
    renew.add_argument("--failed", help="component that has failed and is renewed anyway")
    renew.add_argument(
        "--degraded", action="append", default=[], help="component found degraded; repeatable"
    )
    renew.add_argument(
        "--sound", action="append", default=[], help="component found sound; repeatable"
    )
    renew.add_argument(
        "--horizon",
        type=float,
        help=f"years the owner means to keep the vehicle (default {HORIZON_YEARS:g})",
    )
    renew.add_argument(
        "--distance-per-year",
        type=float,
        help="in the unit that workshop.toml names (default: as the median vehicle in the book)",
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

    _check(asked)
    workshop = opened(asked)
    horizon = HORIZON_YEARS if asked.horizon is None else asked.horizon
    if asked.by == CARD:
        from wornby.histories.counts import YEARS
        from wornby.reports.medians_in_the_book import book_ages

        age = book_ages(workshop)[YEARS] if asked.age is None else asked.age
        show(asked, [wornby.ramp_card_answer(workshop, age_years=age, horizon_years=horizon)])
    elif asked.group is None:
        show(asked, [getattr(wornby, RENEW_ANSWERS[asked.by])(workshop)])
    else:
        show(asked, _while_open(asked, workshop, horizon))


def _check(asked: argparse.Namespace) -> None:
    """Refuse words that do not go together."""
    given = [name for name in OF_ONE_VEHICLE if getattr(asked, name) not in (None, [])]
    alone = [n for n in given if asked.by != CARD or n not in OF_CARD]
    if asked.group is None and alone:
        raise ValueError(f"--{alone[0].replace('_', '-')} goes with --group")
    if asked.group is not None and asked.by != "age":
        raise ValueError(f"--by {asked.by} asks of all components; --group of one access")
    if asked.group is not None and asked.age is None:
        raise ValueError("--group needs --age, the age of the vehicle in years")


def _while_open(asked: argparse.Namespace, workshop: "Workshop", horizon: float) -> list["Answer"]:
    from wornby.reports import while_open_answers as told
    from wornby.reports.ramp import Ramp, while_open_advice
    from wornby.reports.workshop import pace_of
    from wornby.reports.yearly_pace import Pace

    if asked.exact:
        told.check_exact(workshop, asked.group)
    pace, catalogue = pace_of(workshop), workshop.catalogue
    if asked.distance_per_year is not None:
        if asked.distance_per_year <= 0:
            wanted = f"--distance-per-year {asked.distance_per_year:g}: wanted above 0"
            raise ValueError(f"{wanted}, in {catalogue.distances_in}")
        pace = Pace(asked.distance_per_year / catalogue.per_mile, catalogue.distances_in)
    advice = while_open_advice(
        workshop,
        asked.group,
        Ramp(asked.age, pace, horizon, years_renewed(asked.renewed)),
        failed=asked.failed,
        degraded=frozenset(asked.degraded),
        sound=frozenset(asked.sound),
        discount_rate_per_year=asked.discount or 0.0,
        beside_apart=True,
    )
    answers = [
        told.bundle_answer(workshop, advice),
        told.against_answer(workshop, advice),
        told.card_answer(workshop, advice),
    ]
    return [*answers, told.exact_answer(workshop, advice)] if asked.exact else answers
