"""What the records hold and what would help them most, as a page that travels may say it."""

from pathlib import Path

import polars as pl

from wornby.records.edits import CATALOGUE, LAYOUT, helpful_edits
from wornby.records.layout import read_layout
from wornby.reports.amounts import percent
from wornby.reports.answer import Answer
from wornby.reports.records_answers import edit_answer
from wornby.reports.sentences import Sentences
from wornby.reports.workshop import Workshop

MOST_EDITS = 5


def records_findings(workshop: Workshop, edits: Answer) -> Sentences:
    """How much of the records serves, what stands in the way of the rest, what to do first."""
    records = workshop.records
    by_name = {ledger.what: ledger for ledger in workshop.ledgers}
    lines, fitments = by_name["job lines"], by_name["fitments"]
    named = records.mentions.select("file", "row").unique().height
    return Sentences(
        (
            f"{records.catalogue.name}: {lines.n_accepted:,} of {lines.n_read:,} job lines serve "
            f"({percent(lines.n_accepted / max(lines.n_read, 1))}), on "
            f"{records.visits['vehicle'].n_unique():,} vehicles. {records.catalogue.note}".strip(),
            f"{named:,} of them name a component that workshop.toml knows.",
            f"{fitments.n_accepted:,} of {fitments.n_read:,} parts could be watched for some time; "
            f"most of the others: {_commonest(fitments.set_aside)}.",
            _mending(records.problems),
            _gain(edits.frame),
        )
    )


def page_edits_answer(workshop: Workshop, folder: Path | str) -> Answer:
    """The edits of the two text files that would have most rows used, each ready to copy.

    Those of the tables name vehicles, so `wornby read` tells them and no page does.
    """
    layouts = read_layout(Path(folder) / LAYOUT)
    found = helpful_edits(Path(folder), workshop.records, layouts)
    answer = edit_answer(
        [edit for edit in found if edit.file in (CATALOGUE, LAYOUT)], most=MOST_EDITS
    )
    told = (
        "Edits to the tables would name vehicles and are left out here: "
        f"`wornby read {Path(folder).name}` shows them."
    )
    return Answer(answer.title, answer.people, answer.frame, (*answer.notes, told))


def _commonest(set_aside: dict[str, int]) -> str:
    if not set_aside:
        return "none"
    first = sorted(set_aside.items(), key=lambda pair: -pair[1])[:2]
    return ", ".join(f"{why} ({n:,})" for why, n in first)


def _mending(problems: pl.DataFrame) -> str:
    """How many rows could be mended by hand, and why most of them were not used."""
    open_ = problems.filter(~pl.col("mend").str.starts_with("nothing"))
    if open_.is_empty():
        return "No row is left to mend."
    why, n = open_.group_by("reason").len().sort("len", "reason", descending=[True, False]).row(0)
    rows = "row" if open_.height == 1 else "rows"
    return f"{open_.height:,} {rows} could be mended; most: {why} ({n:,})."


def _gain(edits: pl.DataFrame) -> str:
    if "rows_gained" not in edits.columns or edits.is_empty():
        return "No edit of workshop.toml or layout.toml would have more rows used."
    n, first = edits.height, edits["rows_gained"][0]
    which = "The edit below" if n == 1 else f"The first of the {n} edits below"
    return f"{which} would have {first:,} more {'row' if first == 1 else 'rows'} used."
