"""Answers on the decisions themselves: what they cost and risked where the truth was known.

The table comes from tests/studies/regret.py, which puts a summary of its own beside this module.
"""

import polars as pl

from wornby.reports.amounts import PER_CENT
from wornby.reports.answer import Answer, Answers
from wornby.reports.trial_answers import trial_table

WHILE_OPEN, RENEWAL_AGE = "renew while open", "renewal age"
FIXED_PRICE, TO_COME = "fixed price", "failures to come"
NO_RECORDS = "none"
NOMINAL_HELD = f"87 to 93{PER_CENT}"


def decision_trial_answers() -> Answers:
    """What advice cost beyond the best in simulated workshops, and how often risks came true."""
    frame = trial_table("decision.csv")
    return Answers((_excess(frame), _risks(frame)))


def _excess(frame: pl.DataFrame) -> Answer:
    """Cost beyond the best decision, by the records that the advice had."""
    rows = frame.filter(pl.col("question").is_in([WHILE_OPEN, RENEWAL_AGE]))
    people = [
        {
            "decision": row["question"],
            "taken": row["what"],
            "from records of": _records(row["records"]),
            "costs more than the best": _with_error(row),
        }
        for row in rows.to_dicts()
    ]
    return Answer(
        "What the decisions cost beyond the best ones, where the truth is known",
        pl.DataFrame(people),
        rows,
        (
            "Simulated workshops of the invented world, their advice priced under the true lives "
            "of the parts: the mean cost beyond that of the best decision, as a share of it, and "
            "its Monte-Carlo standard error. Rules of thumb need no records.",
            "Renew while open: the owner's cost from the open job to the horizon, without the "
            "opening and the part that failed, which are paid anyway. Renewal age: cost a year "
            "over the long run, all components together.",
        ),
    )


def _risks(frame: pl.DataFrame) -> Answer:
    """How often years lost money, and how often counts fell within their interval."""
    rows = frame.filter(pl.col("question").is_in([FIXED_PRICE, TO_COME]))
    people = [
        {
            "question": row["question"],
            "where": row["where"],
            "from": row["records"],
            "it came in": _with_error(row),
            "wanted": _wanted(row),
        }
        for row in rows.to_dicts()
    ]
    return Answer(
        "How often the risks that were named came true",
        pl.DataFrame(people),
        rows,
        (
            "Fixed price: the share of simulated years that lost money at the advised price. Where "
            "the margin or the risk of one job sets the price, the year's risk is an upper bound. "
            "The workshop's other jobs have as many past ones, where nothing else is said.",
            f"Failures to come: the share of counts within the 90{PER_CENT} interval, its ends "
            "taken in with the chance that brings each tail to a twentieth, since an interval of "
            "whole numbers holds more than it states.",
            _outside(rows),
        ),
    )


def _outside(rows: pl.DataFrame) -> str:
    """Which risks came true more or less often than wanted, with their standard error."""
    off = rows.filter(~pl.col("value").is_between(pl.col("least").fill_null(0.0), pl.col("most")))
    if off.is_empty():
        return "All came as often as wanted."
    told = "; ".join(
        f"{row['question']}, {row['records']}, {row['where']}: {_with_error(row)}, wanted "
        f"{_wanted(row)}"
        for row in off.to_dicts()
    )
    return f"Not as often as wanted came: {told}. The others did."


def _records(records: str) -> str:
    return "no records needed" if records == NO_RECORDS else records


def _with_error(row: dict[str, float | None]) -> str:
    value, error = row["value"] or 0.0, row["std_err"]
    told = f"{100 * value:.1f}{PER_CENT}"
    return told if error is None else f"{told} (± {100 * error:.1f})"


def _wanted(row: dict[str, float | None]) -> str:
    least, most = row["least"], row["most"]
    if most is None:
        return ""
    if not least:
        return f"at most {100 * most:.0f}{PER_CENT}"
    return f"{100 * least:.0f} to {100 * most:.0f}{PER_CENT}"
