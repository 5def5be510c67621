"""The command line: wornby read, life, renew, price, expect, vehicle, inspect, survey, report."""

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from wornby import commands as run
from wornby.errors import EstimateError, HistoryError, RecordError
from wornby.vehicle_commands import inspect_options, run_inspect, run_vehicle, vehicle_options

EXAMPLES = """examples:
  wornby read data_demo                      what was understood, what was not, what to mend
  wornby life data_demo                      by what age each component gives out
  wornby life data_demo --by grade           genuine against aftermarket parts
  wornby life data_demo --by rule --component "water pump"
                                             what hangs on who is taken to have been watched
  wornby renew data_demo                     at what age to renew each part by itself
  wornby renew data_demo --by policy         alone by age, when open anyway, or by the calendar
  wornby renew data_demo --group "timing cover off" --age 14 --failed thermostat
  wornby renew data_demo --group "timing cover off" --age 14 --renewed "timing belt=2"
  wornby life data_demo --by cost            what each part grade costs a year of service
  wornby vehicle data_demo --age 14 --odometer 105000 --renewed "water pump=3"
                                             one vehicle: its risks, its costs, what to do first
  wornby inspect data_demo                   how often to look at what, and what looks catch
  wornby price data_demo                     which jobs to offer at a fixed price
  wornby expect data_demo --months 3         failures and jobs to expect (3, 6 or 12 months)
  wornby expect data_demo --by stock         how many of each part to keep on the shelf
  wornby survey data_demo                    who answered the club's survey, and their weights
  wornby survey data_demo --by component      how long parts last, as owners tell
  wornby report owner data_demo --to reports a page to read and print
"""
CONFIDENCE = 0.90
SEED = 1


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; what is wrong with the input is said in one line, with exit code 1."""
    asked = _parser().parse_args(arguments)
    try:
        asked.run(asked)
    except BrokenPipeError:
        sys.stderr.close()
    except (RecordError, HistoryError, EstimateError, ValueError, OSError) as error:
        print(f"wornby: {error}", file=sys.stderr)
        return 1
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="wornby",
        description="Worn by what age? A workshop's own job records into failure-age curves, "
        "and the curves into decisions.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    words = parser.add_subparsers(required=True, metavar="COMMAND")
    _command(words, "read", run.run_read, "what the records hold, what was not used and why")
    _life_options(_command(words, "life", run.run_life, "by what age or distance parts fail"))
    _renew_options(_command(words, "renew", run.run_renew, "when to renew, alone or while open"))
    _command(words, "price", run.run_price, "jobs to offer at a fixed price, and the price")
    _expect_options(_command(words, "expect", run.run_expect, "failures, jobs, parts to expect"))
    vehicle_options(_command(words, "vehicle", run_vehicle, "the sheet of one vehicle"))
    inspect_options(_command(words, "inspect", run_inspect, "how often to look at what"))
    _survey_options(_command(words, "survey", run.run_survey, "what a club's survey says"))
    report = words.add_parser(
        "report",
        help="render a report as a page",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    report.add_argument("name", choices=("owner", "analyst"), help="whom it is for")
    _folder(report)
    report.add_argument("--to", type=Path, required=True, help="folder to write the page to")
    report.set_defaults(run=run.run_report)
    return parser


def _life_options(life: argparse.ArgumentParser) -> None:
    """What `life` may be asked."""
    life.add_argument(
        "--by",
        choices=(*run.LIFE_ANSWERS, "cost", *run.OF_POPULATION),
        default="component",
        help="original parts by component, or what else is asked of their lives",
    )
    life.add_argument(
        "--component", help="one component in full, with --by rule, fit or population"
    )


def _expect_options(expect: argparse.ArgumentParser) -> None:
    """What `expect` may be asked."""
    expect.add_argument(
        "--months", type=int, choices=run.MONTHS, help=f"how far ahead (default {run.MONTHS[-1]})"
    )
    expect.add_argument(
        "--by",
        choices=run.EXPECT_ANSWERS,
        default="failure",
        help="failures and jobs to come, or the stock to keep for them",
    )


def _survey_options(survey: argparse.ArgumentParser) -> None:
    """What `survey` may be asked."""
    survey.add_argument(
        "--by",
        choices=run.SURVEY_ANSWERS,
        default="respondent",
        help="who answered, how long components last by their answers, or what hangs on the rule",
    )
    survey.add_argument(
        "--calendar-year", type=int, help="of the vehicles on the road (default: the last counted)"
    )


def _renew_options(renew: argparse.ArgumentParser) -> None:
    """What `renew` may be asked, and told of the vehicle on the ramp."""
    renew.add_argument(
        "--by",
        choices=tuple(run.RENEW_ANSWERS),
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
        help=f"years the owner means to keep the vehicle (default {run.HORIZON_YEARS:g})",
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


Words = argparse._SubParsersAction  # the library's only name for what add_subparsers returns


def _command(
    words: "Words[argparse.ArgumentParser]",
    name: str,
    action: Callable[[argparse.Namespace], None],
    about: str,
) -> argparse.ArgumentParser:
    parser = words.add_parser(
        name, help=about, epilog=EXAMPLES, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    _folder(parser)
    parser.add_argument("--json", action="store_true", help="the typed table, for programs")
    parser.add_argument(
        "--confidence", type=float, default=CONFIDENCE, help=f"default {CONFIDENCE:g}"
    )
    parser.add_argument("--seed", type=int, default=SEED, help=f"of the draws (default {SEED})")
    parser.set_defaults(run=action)
    return parser


def _folder(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", type=Path, help="folder with layout.toml and workshop.toml")


if __name__ == "__main__":
    sys.exit(main())
