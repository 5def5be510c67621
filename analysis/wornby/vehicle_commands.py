"""The words `vehicle` and `inspect`: what they may be told, and what they do."""

import argparse

from wornby.commands import HORIZON_YEARS, opened, show, years_renewed

CATCH_SHARE = 0.5


def vehicle_options(vehicle: argparse.ArgumentParser) -> None:
    """What `vehicle` may be told; COMPONENT may be one place: "coolant transfer pipe, left"."""
    vehicle.add_argument("--age", type=float, help="age of the vehicle in years")
    vehicle.add_argument("--odometer", type=float, help="miles shown (default: the usual pace)")
    vehicle.add_argument("--registration", help="of a vehicle in the records; never printed")
    vehicle.add_argument(
        "--horizon",
        type=float,
        default=HORIZON_YEARS,
        help=f"years to look ahead (default {HORIZON_YEARS:g})",
    )
    for option, what in (
        ("--renewed", "COMPONENT=YEARS since it was renewed"),
        ("--original", "COMPONENT known to be the original"),
        ("--degraded", "COMPONENT found degraded"),
        ("--sound", "COMPONENT looked at and found sound"),
    ):
        vehicle.add_argument(
            option, action="append", default=[], metavar=what.split()[0], help=f"{what}; repeatable"
        )


def inspect_options(inspect: argparse.ArgumentParser) -> None:
    """What `inspect` may be told."""
    inspect.add_argument(
        "--share",
        type=float,
        default=CATCH_SHARE,
        help=f"of defects to catch before they fail (default {CATCH_SHARE:g})",
    )


def run_vehicle(asked: argparse.Namespace) -> None:
    """Say what one vehicle's parts may cost, what to do first and where to look."""
    import wornby

    workshop = opened(asked)
    vehicle = wornby.vehicle_asked_about(
        workshop,
        age_years=asked.age,
        odometer_mi=asked.odometer,
        registration=asked.registration,
        horizon_years=asked.horizon,
    )
    told = wornby.told_of(
        vehicle,
        workshop.catalogue,
        renewed=years_renewed(asked.renewed),
        original=frozenset(asked.original),
        degraded=frozenset(asked.degraded),
        sound=frozenset(asked.sound),
    )
    show(asked, wornby.sheet_answers(workshop, told).answers)


def run_inspect(asked: argparse.Namespace) -> None:
    """Say how often to look at what, and what each way of looking would catch."""
    import wornby

    show(asked, wornby.looking_answers(opened(asked), share=asked.share).answers)
