"""The command line: wornby read, life, renew, price, expect, and so on."""

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from wornby.commands.ask import ask_options, run_ask
from wornby.commands.completion import complete, completion_options, run_completion
from wornby.commands.expect import expect_options, run_expect
from wornby.commands.explain import explain_options, run_explain
from wornby.commands.inspect import inspect_options, run_inspect
from wornby.commands.life import life_options, run_life
from wornby.commands.price import price_options, run_price
from wornby.commands.read import run_read
from wornby.commands.renew import renew_options, run_renew
from wornby.commands.report import report_options, run_report
from wornby.commands.start import run_start, start_options
from wornby.commands.survey import run_survey, survey_options
from wornby.commands.vehicle import run_vehicle, vehicle_options
from wornby.errors import EstimateError, HistoryError, RecordError
from wornby.examples import EXAMPLES, examples_of
from wornby.progress import WATCHED

CONFIDENCE = 0.90
SEED = 1
STOPPED = 130
EXIT_CODES = """exit codes:
  0    answered
  1    the records, or what was asked of them, allow no answer: one line says why
  2    no such command or option
  130  stopped at the keyboard"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: see `EXIT_CODES`."""
    parser = _parser()
    if "_ARGCOMPLETE" in os.environ:
        complete(parser)
    asked = parser.parse_args(arguments)
    WATCHED.set(not asked.json)
    try:
        asked.run(asked)
    except BrokenPipeError:
        sys.stderr.close()
    except KeyboardInterrupt:
        return STOPPED
    except (RecordError, HistoryError, EstimateError, ValueError, OSError) as error:
        print(f"wornby: {error}", file=sys.stderr)
        return 1
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="wornby",
        description="Worn by what age? A workshop's own job records into failure-age curves, "
        "and the curves into decisions.",
        epilog=f"{examples_of(*EXAMPLES)}\n\n{EXIT_CODES}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    words = parser.add_subparsers(required=True, metavar="COMMAND")
    start_options(_worded(words, "start", run_start, "make a folder, or a layout for its exports"))
    _command(words, "read", run_read, "what the records hold, what was not used and why")
    life_options(_command(words, "life", run_life, "by what age or distance parts fail"))
    renew_options(_command(words, "renew", run_renew, "when to renew, alone or while open"))
    price_options(
        _command(words, "price", run_price, "jobs to offer at a fixed price, and where to stop")
    )
    expect_options(_command(words, "expect", run_expect, "failures, jobs, parts to expect"))
    vehicle_options(_command(words, "vehicle", run_vehicle, "the sheet of one vehicle"))
    inspect_options(_command(words, "inspect", run_inspect, "how often to look at what"))
    ask_options(_worded(words, "ask", run_ask, "a club's questions, ready to hand round"))
    survey_options(_command(words, "survey", run_survey, "what a club's survey says"))
    report = _worded(words, "report", run_report, "render a report as a page")
    report_options(report)
    explain_options(_worded(words, "explain", run_explain, "what a number means, and its sources"))
    completion = _worded(
        words, "completion", run_completion, "what a shell needs to complete words"
    )
    completion_options(completion)
    return parser


Words = argparse._SubParsersAction  # the library's only name for what add_subparsers returns


def _command(
    words: "Words[argparse.ArgumentParser]",
    name: str,
    action: Callable[[argparse.Namespace], None],
    about: str,
) -> argparse.ArgumentParser:
    """A command that opens a folder and answers in tables."""
    parser = _worded(words, name, action, about)
    _folder(parser)
    parser.add_argument(
        "--confidence", type=float, default=CONFIDENCE, help=f"default {CONFIDENCE:g}"
    )
    parser.add_argument("--seed", type=int, default=SEED, help=f"of the draws (default {SEED})")
    return parser


def _worded(
    words: "Words[argparse.ArgumentParser]",
    name: str,
    action: Callable[[argparse.Namespace], None],
    about: str,
) -> argparse.ArgumentParser:
    """Any command: its word, what it does, its examples."""
    parser = words.add_parser(
        name,
        help=about,
        epilog=examples_of(name),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--json", action="store_true", help="typed, for programs")
    parser.set_defaults(run=action)
    return parser


def _folder(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", type=Path, help="folder with layout.toml and workshop.toml")


if __name__ == "__main__":
    sys.exit(main())
