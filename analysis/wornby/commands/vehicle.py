"""`wornby vehicle`: what one vehicle's parts may cost, what to do first, where to look."""

import argparse

from wornby.commands.asked import HORIZON_YEARS, opened, show, years_renewed


def vehicle_options(vehicle: argparse.ArgumentParser) -> None:
    """What `vehicle` may be told; COMPONENT may be one place: "coolant transfer pipe, left"."""
    vehicle.add_argument("--age", type=float, help="age of the vehicle in years")
    vehicle.add_argument(
        "--odometer",
        type=float,
        help="what it shows, in the unit that workshop.toml names (default: the usual pace)",
    )
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


def run_vehicle(asked: argparse.Namespace) -> None:
    """Say what one vehicle's parts may cost, what to do first and where to look."""
    import wornby

    workshop = opened(asked)
    vehicle = wornby.vehicle_asked_about(
        workshop,
        age_years=asked.age,
        odometer=asked.odometer,
        registration=asked.registration,
        horizon_years=asked.horizon,
    )
    told = wornby.told_of(
        vehicle,
        workshop.catalogue,
        renewed=years_renewed(asked.renewed),
        original=asked.original,
        degraded=asked.degraded,
        sound=asked.sound,
    )
    show(asked, wornby.sheet_answers(workshop, told).answers)
