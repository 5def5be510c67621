"""Answers on the records themselves: what was understood, what was not, what mends it."""

from collections.abc import Sequence

import polars as pl

from wornby.ledger import Ledger, ledger_table
from wornby.records.edits import Edit
from wornby.records.reading import Records
from wornby.reports.amounts import percent
from wornby.reports.answer import Answer

MOST_ROWS = 15


NONE_USED = (
    "No line can be used yet, so what lines name is not counted: mend first what keeps them out, "
    "as told under where every row went."
)


def coverage_answer(records: Records) -> Answer:
    """How many lines name a component, and what they say of it."""
    named = records.mentions.select("file", "row").unique().height
    lines = records.lines.height
    told = records.mentions.unique(["file", "row", "component"])
    seen = told.group_by(pl.col("seen").fill_null("only named")).len().sort("len", descending=True)
    used = sum(ledger.n_accepted for ledger in records.ledgers if ledger.what == "job lines")
    unused = lines > 0 and not used
    rows = [("job lines read into the tables", lines)]
    rows += [] if unused else [("of which name a component", named)]
    rows += [(f"… {what}", n) for what, n in seen.iter_rows()]
    frame = pl.DataFrame(rows, schema=["what", "lines"], orient="row")
    return Answer(
        f"{records.catalogue.name}: what the job lines tell",
        frame.with_columns(lines=pl.Series([f"{n:,}" for n in frame["lines"]], dtype=pl.String)),
        frame,
        (
            *((NONE_USED,) if unused else ()),
            *((records.catalogue.note,) if records.catalogue.note else ()),
        ),
    )


def ledger_answer(ledgers: Sequence[Ledger]) -> Answer:
    """Where every row went, stage by stage."""
    frame = ledger_table(ledgers)
    reads = {ledger.what: ledger.n_read for ledger in ledgers}
    shares = frame.with_columns(
        share=pl.col("rows") / pl.col("what").replace_strict(reads, return_dtype=pl.Float64)
    ).to_dicts()
    people = [
        {
            "what": row["what"],
            "fate": row["fate"],
            "reason": row["reason"],
            "rows": f"{row['rows']:,}",
            "share": percent(row["share"] if reads[row["what"]] else 0.0),
        }
        for row in shares
    ]
    return Answer("Where every row went", pl.DataFrame(people), frame)


def problem_answer(problems: pl.DataFrame, *, at_the_door: bool = False) -> Answer:
    """Why rows were not used, those that can be mended first, each with an example.

    What the rows hold is shown only at the door (`wornby read`), not on a page that travels.
    """
    if not at_the_door and "value" in problems.columns:
        problems = problems.with_columns(value=pl.lit(None, pl.String))
    if problems.is_empty():
        return Answer(
            "Rows to mend: none", pl.DataFrame({"what": ["every row was used"]}), problems
        )
    kinds = (
        problems.group_by("fate", "reason", "mend", maintain_order=True)
        .agg(
            rows=pl.len(),
            file=pl.col("file").first(),
            row=pl.col("row").first(),
            value=_value(problems),
        )
        .sort(pl.col("mend").str.starts_with("nothing"), "rows", descending=[False, True])
    )
    people = [
        {
            "reason": kind["reason"],
            "fate": kind["fate"],
            "rows": f"{kind['rows']:,}",
            "for example": f"{kind['file']} row {kind['row']}" + _found(kind["value"]),
            "what to do": kind["mend"],
        }
        for kind in kinds.to_dicts()
    ]
    return Answer("Rows to mend", pl.DataFrame(people), problems)


def _value(problems: pl.DataFrame) -> pl.Expr:
    given = "value" in problems.columns
    return pl.col("value").first() if given else pl.lit(None, pl.String).first()


def _found(value: str | None) -> str:
    return "" if value is None else f": {value[:40]!r}"


def unplaced_answer(unplaced: pl.DataFrame) -> Answer:
    """What named no component, near matches first, then the most frequent."""
    near = unplaced.filter(pl.col("near_match") != "")
    rest = unplaced.filter(pl.col("near_match") == "")
    shown = pl.concat([near, rest]).head(MOST_ROWS)
    people = [
        {
            "text": row["text"][:60],
            "lines": str(row["lines"]),
            "nearly": row["near_match"],
        }
        for row in shown.to_dicts()
    ]
    empty = pl.DataFrame(schema={"text": pl.String, "lines": pl.String, "nearly": pl.String})
    return Answer(
        "Texts that name no component, near matches first",
        pl.DataFrame(people) if people else empty,
        unplaced,
        (
            "Where a text should have been placed, add its spelling to the component's words in "
            "workshop.toml.",
        ),
    )


def edit_answer(edits: Sequence[Edit], *, most: int) -> Answer:
    """The edits that would help most, each as a line to copy."""
    frame = pl.DataFrame(
        [(e.rows, e.file, e.under, e.line, e.because) for e in edits[:most]],
        schema={"rows_gained": pl.Int64}
        | dict.fromkeys(("file", "under", "line", "because"), pl.String),
        orient="row",
    )
    if frame.is_empty():
        return Answer(
            "Edits that would help: none", pl.DataFrame({"what": ["no edit gains rows"]}), frame
        )
    people = frame.select(
        pl.col("rows_gained").cast(pl.String).alias("rows gained"), "file", "under", "because"
    ).with_columns(n=pl.int_range(1, pl.len() + 1).cast(pl.String))
    return Answer(
        "The edits that would help most",
        people.select("n", *people.columns[:-1]),
        frame,
        (
            "To copy:",
            *(
                f"{n}. {part}" if part == line.split("\n")[0] else f"   {part}"
                for n, line in enumerate(frame["line"], start=1)
                for part in line.split("\n")
            ),
        ),
    )
