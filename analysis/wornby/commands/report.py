"""`wornby report`: a page, printed pages, and the tables for a spreadsheet."""

import argparse
from pathlib import Path

from wornby.commands.asked import show_written

REPORTS = ("owner", "analyst", "club", "vehicle", "records")


def report_options(report: argparse.ArgumentParser) -> None:
    """What `report` must be told."""
    report.add_argument("name", choices=REPORTS, help="whom it is for")
    report.add_argument("folder", type=Path, help="folder with layout.toml and workshop.toml")
    report.add_argument("--to", type=Path, required=True, help="folder to write the report to")
    report.add_argument(
        "--set",
        dest="parameters",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="a parameter of the report, such as age_years=14; repeatable",
    )


def run_report(asked: argparse.Namespace) -> None:
    """Render a report in every form."""
    from wornby.reports.parameters import typed_parameters
    from wornby.reports.render import render_report

    parameters = typed_parameters(asked.parameters)
    written = render_report(asked.name, asked.folder, asked.to, parameters=parameters)
    show_written(asked, written)
