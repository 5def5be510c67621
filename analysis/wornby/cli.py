"""The command line: wornby read, life, renew, price, expect, report."""

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from wornby.errors import EstimateError, HistoryError, RecordError

if TYPE_CHECKING:
    from wornby.reports.answer import Answer
    from wornby.reports.workshop import Workshop

EXAMPLES = """examples:
  wornby read data_demo                      what was understood, what was not, what to mend
  wornby life data_demo                      by what age each component gives out
  wornby life data_demo --by grade           genuine against aftermarket parts
  wornby renew data_demo                     at what age to renew each part by itself
  wornby renew data_demo --group "timing cover off" --age 14 --failed thermostat
  wornby renew data_demo --group "timing cover off" --age 14 --renewed "timing belt=2"
  wornby price data_demo                     which jobs to offer at a fixed price
  wornby expect data_demo                    failures to expect in the next 12 months
  wornby report owner data_demo --to reports a page to read and print
"""
HORIZON_YEARS = 3.0
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
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    _command(commands, "read", _read, "what the records hold, what was not used and why")
    life = _command(commands, "life", _life, "by what age or distance each component fails")
    life.add_argument(
        "--by",
        choices=("component", "renewed", "grade", "rule", "recurrence"),
        default="component",
        help="original parts by component, renewed ones, part grades, observation rules, or "
        "failures that come back",
    )
    renew = _command(commands, "renew", _renew, "when to renew, and what while a job is open")
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
    _command(commands, "price", _price, "jobs to offer at a fixed price, and the price")
    _command(commands, "expect", _expect, "failures to expect in the next 12 months")
    report = commands.add_parser(
        "report",
        help="render a report as a page",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    report.add_argument("name", choices=("owner", "analyst"), help="whom it is for")
    _folder(report)
    report.add_argument("--to", type=Path, required=True, help="folder to write the page to")
    report.set_defaults(run=_report)
    return parser


Commands = argparse._SubParsersAction  # the library's only name for what add_subparsers returns


def _command(
    commands: "Commands[argparse.ArgumentParser]",
    name: str,
    run: Callable[[argparse.Namespace], None],
    about: str,
) -> argparse.ArgumentParser:
    parser = commands.add_parser(
        name, help=about, epilog=EXAMPLES, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    _folder(parser)
    parser.add_argument("--json", action="store_true", help="the typed table, for programs")
    parser.add_argument(
        "--confidence", type=float, default=CONFIDENCE, help=f"default {CONFIDENCE:g}"
    )
    parser.add_argument("--seed", type=int, default=SEED, help=f"of the draws (default {SEED})")
    parser.set_defaults(run=run)
    return parser


def _folder(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", type=Path, help="folder with layout.toml and workshop.toml")


def _show(asked: argparse.Namespace, answers: Sequence["Answer"]) -> None:
    if asked.json:
        print("[" + ",\n".join(answer.as_json() for answer in answers) + "]")
    else:
        print("\n\n".join(repr(answer) for answer in answers))


def _opened(asked: argparse.Namespace) -> "Workshop":
    from wornby.reports.workshop import open_workshop

    if not 0 < asked.confidence < 1:
        raise ValueError(f"--confidence {asked.confidence}: wanted between 0 and 1")
    if asked.seed < 0:
        raise ValueError(f"--seed {asked.seed}: wanted 0 or more")
    return open_workshop(asked.folder, confidence=asked.confidence, seed=asked.seed)


def _read(asked: argparse.Namespace) -> None:
    from wornby.records.lives import holds_lives, read_lives
    from wornby.reports import records_answers as told

    if holds_lives(asked.folder):
        lives = read_lives(asked.folder)
        _show(
            asked,
            [
                told.ledger_answer([lives.ledger]),
                told.problem_answer(lives.problems, at_the_door=True),
            ],
        )
        return
    workshop = _opened(asked)
    records = workshop.records
    _show(
        asked,
        [
            told.coverage_answer(records),
            told.ledger_answer(workshop.ledgers),
            told.problem_answer(records.problems, at_the_door=True),
            told.unplaced_answer(records.unplaced),
        ],
    )


def _life(asked: argparse.Namespace) -> None:
    from wornby.records.lives import holds_lives, read_lives
    from wornby.reports import comparison_answers as compared
    from wornby.reports import life_answers as told

    if holds_lives(asked.folder):
        if asked.by != "component":
            raise ValueError(f"--by {asked.by}: ready-made lives know of components only")
        lives = read_lives(asked.folder)
        _show(asked, [told.ready_lives_answer(lives.table, confidence=asked.confidence)])
        return
    workshop = _opened(asked)
    chosen = {
        "component": lambda: told.life_answer(workshop, origin="original"),
        "renewed": lambda: told.life_answer(workshop, origin="renewed"),
        "grade": lambda: compared.grade_answer(workshop),
        "rule": lambda: compared.rule_answer(workshop),
        "recurrence": lambda: compared.recurrence_answer(workshop),
    }
    _show(asked, [chosen[asked.by]()])


def _renew(asked: argparse.Namespace) -> None:
    from wornby.reports import while_open_answers as told
    from wornby.reports.renewal_answers import renewal_age_answer
    from wornby.reports.workshop import pace_of

    only_with_group = ("age", "failed", "horizon", "miles_per_year", "degraded", "renewed")
    given = [name for name in only_with_group if getattr(asked, name) not in (None, [])]
    if asked.group is None and given:
        raise ValueError(f"--{given[0].replace('_', '-')} goes with --group")
    if asked.group is not None and asked.age is None:
        raise ValueError("--group needs --age, the age of the vehicle in years")
    workshop = _opened(asked)
    if asked.group is None:
        _show(asked, [renewal_age_answer(workshop)])
        return
    pace = pace_of(workshop) if asked.miles_per_year is None else asked.miles_per_year
    horizon = HORIZON_YEARS if asked.horizon is None else asked.horizon
    ramp = told.Ramp(asked.age, pace, horizon, _years_renewed(asked.renewed))
    advice = told.while_open_advice(
        workshop, asked.group, ramp, failed=asked.failed, degraded=frozenset(asked.degraded)
    )
    _show(asked, [told.bundle_answer(workshop, advice), told.card_answer(workshop, advice)])


def _years_renewed(given: Sequence[str]) -> dict[str, float]:
    """COMPONENT=YEARS pairs as typed."""
    told = {}
    for pair in given:
        name, _, years = pair.rpartition("=")
        try:
            told[name.strip()] = float(years)
        except ValueError:
            raise ValueError(f"--renewed {pair!r}: wanted COMPONENT=YEARS") from None
    return told


def _price(asked: argparse.Namespace) -> None:
    from wornby.reports.price_answers import price_answer

    _show(asked, [price_answer(_opened(asked))])


def _expect(asked: argparse.Namespace) -> None:
    from wornby.reports.expected_answers import expected_answer

    _show(asked, [expected_answer(_opened(asked))])


def _report(asked: argparse.Namespace) -> None:
    from wornby.reports.render import render_report

    path = render_report(asked.name, asked.folder, asked.to)
    print(f"wrote {path}")


if __name__ == "__main__":
    sys.exit(main())
