"""`wornby report`: a page to read and print."""

import argparse
from pathlib import Path

from wornby.commands.asked import show_written


def report_options(report: argparse.ArgumentParser) -> None:
    """What `report` must be told."""
    report.add_argument("name", choices=("owner", "analyst"), help="whom it is for")
    report.add_argument("folder", type=Path, help="folder with layout.toml and workshop.toml")
    report.add_argument("--to", type=Path, required=True, help="folder to write the page to")


def run_report(asked: argparse.Namespace) -> None:
    """Render a report as a page."""
    from wornby.reports.render import render_report

    path = render_report(asked.name, asked.folder, asked.to)
    show_written(asked, [path])
