"""Answers on components: every one accepted, set aside or rejected, with its reason."""

from collections.abc import Sequence
from dataclasses import astuple, dataclass, field
from pathlib import Path

import polars as pl

from wornby.ledger import Ledger, ledger_from
from wornby.records.judging import OUT_OF_PLACE, Rule, judge
from wornby.records.layout import FileLayout
from wornby.records.repeats import mark_repeated
from wornby.survey.component_cells import Names, called, written_answers
from wornby.survey.told_spans import Span
from wornby.survey.told_states import read_reason, read_state
from wornby.survey.told_when import When, read_when
from wornby.survey.unread_cells import not_understood
from wornby.tables import COMPONENT_ANSWERS

UNSURE = "don't know"
WHEN_UNREADABLE = "when not understood: taken as renewed at a time unknown"
SPAN = {
    "kind": pl.String, "low": pl.Float64, "high": pl.Float64, "precision": pl.String,
    "about": pl.Boolean, "named": pl.Int64,
}  # fmt: skip
RENEWAL = {**SPAN, **{f"distance_{name}": dtype for name, dtype in SPAN.items()}}
"""Columns of one renewal as told: its time, and its distance."""
NO_SPAN = (None,) * len(SPAN)
KEY = ("told", "order", "unit")
BETWEEN_CELLS, AGAIN = "; ", " ;; "


@dataclass(frozen=True, eq=False, slots=True)
class ComponentAnswers:
    """What respondents said of components, as far as it was understood.

    `renewals` has a row for each renewal told, and one for an answer that tells of none:
    respondent, component, state (original, renewed, don't know), times (how often renewed;
    empty: not said), why, and the columns of `RENEWAL`. Neither it nor `problems` is for
    anyone beyond the club's own desk; `unread` lists what was not understood, and names no one.
    """

    renewals: pl.DataFrame = field(repr=False)
    problems: pl.DataFrame = field(repr=False)
    unread: pl.DataFrame
    ledger: Ledger


def _contradicts() -> pl.Expr:
    """Whether a respondent calls one component both original and renewed."""
    states = pl.when(pl.col("read").is_in(["original", "renewed"])).then("read")
    both = states.drop_nulls().n_unique().over("number", "component") > 1
    renewed_original = (pl.col("read") == "original") & (pl.col("n_whens") > 0)
    return (both | renewed_original).fill_null(False)


RULES = (
    *OUT_OF_PLACE,
    Rule(
        "rejected",
        "no respondent",
        "respondent",
        pl.col("respondent").is_null(),
        "write whose answer it is",
    ),
    Rule(
        "set aside",
        "respondent's own answer not used",
        "respondent",
        pl.col("number").is_null(),
        "mend the respondent's row of the survey, if it can be",
    ),
    Rule(
        "set aside",
        "not answered",
        "state",
        pl.col("state").is_null() & pl.col("told").is_null(),
        "nothing: the rest is used",
    ),
    Rule(
        "rejected",
        "component not known",
        "component",
        pl.col("component").is_null(),
        "name it as workshop.toml does, or add it to [file.words.component] in layout.toml",
    ),
    Rule(
        "rejected",
        "state not understood",
        "state",
        pl.col("read").is_null(),
        "add the word to [file.words.state] in layout.toml",
    ),
    Rule(
        "set aside",
        "not fitted to the vehicle",
        "state",
        pl.col("read") == "not fitted",
        "nothing: there is no such part",
    ),
    Rule("set aside", "answered twice", "component", pl.col("repeated"), "nothing: one is used"),
    Rule(
        "set aside",
        "original and renewed",
        "state",
        _contradicts(),
        "ask the respondent which of them holds",
    ),
    Rule("set aside", UNSURE, "state", pl.col("read") == UNSURE, "nothing: so it is"),
)


def component_answers(
    folder: Path, layouts: Sequence[FileLayout], sheets: pl.DataFrame, *, names: Names
) -> ComponentAnswers | None:
    """Read the folder's answers on components; None where its layout names no such table.

    `sheets` has file, row, respondent as the club calls them, and number, the running one, of
    each answer to the survey that is used. `names` maps patterns to components; without any,
    each name is taken as it stands.
    """
    of_table = [layout for layout in layouts if layout.table == COMPONENT_ANSWERS.name]
    if not of_table:
        return None
    text = pl.concat([written_answers(folder, layout, names) for layout in of_table])
    stated = _stated(_numbered(text, sheets), names)
    whens = _whens(stated)
    rows = mark_repeated(_with_whens(stated, whens), ("number", "component", "read", "told"))
    judged = judge(rows, RULES)
    taken = (pl.col("fate") == "accepted") & pl.col("unread")
    mended = pl.when(taken).then(pl.lit(WHEN_UNREADABLE)).otherwise("reason")
    return ComponentAnswers(
        renewals=_renewals(judged, whens),
        problems=_problems(judged),
        unread=not_understood(_unread(judged)),
        ledger=ledger_from("component answers", judged.with_columns(reason=mended)),
    )


def _numbered(text: pl.DataFrame, sheets: pl.DataFrame) -> pl.DataFrame:
    """Each answer with its respondent's running number: by the row in the survey's own file."""
    own = sheets["file"].unique().to_list()
    alone = sheets.filter(~pl.col("respondent").is_duplicated())
    joined = text.join(
        sheets.select("file", "row", by_row="number"),
        on=["file", "row"],
        how="left",
        maintain_order="left",
    ).join(
        alone.select("respondent", by_name="number"),
        on="respondent",
        how="left",
        maintain_order="left",
    )
    number = pl.when(pl.col("file").is_in(own)).then("by_row").otherwise("by_name")
    return joined.with_columns(number=number)


def _stated(text: pl.DataFrame, names: Names) -> pl.DataFrame:
    """Component, state and reason read, each distinct text once; and what is told of when."""
    cells = {cell: read_state(cell) for cell in text["state"].unique().drop_nulls()}
    known = [(cell, s.state, s.times, s.rest) for cell, s in cells.items() if s is not None]
    schema = {"state": pl.String, "read": pl.String, "times": pl.Int64, "rest": pl.String}
    stated = text.join(
        pl.DataFrame(known, schema=schema, orient="row"),
        on="state",
        how="left",
        maintain_order="left",
    )
    parts = {cell: called(cell, names) for cell in text["component"].unique().drop_nulls()}
    why = {cell: read_reason(cell) for cell in text["reason_written"].unique().drop_nulls()}
    first = pl.concat_str("rest", "when", separator=BETWEEN_CELLS, ignore_nulls=True)
    joined = pl.concat_str(first, "again", separator=AGAIN, ignore_nulls=True)
    trimmed = joined.str.strip_chars(AGAIN)
    return stated.with_columns(
        told=pl.when(trimmed != "").then(trimmed),
        component=pl.col("component").replace_strict(parts, default=None, return_dtype=pl.String),
        component_written=pl.col("component"),
        why=pl.col("reason_written").replace_strict(why, default="unknown", return_dtype=pl.String),
    ).with_columns(
        read=pl.when(pl.col("state").is_null() & pl.col("told").is_not_null())
        .then(pl.lit("renewed"))
        .otherwise("read")
    )


def _whens(stated: pl.DataFrame) -> pl.DataFrame:
    """Each distinct text on when, a row for each renewal dated, and of how many it tells."""
    rows = []
    for told, order, unit in stated.select(KEY).drop_nulls("told").unique().iter_rows():
        asked = [_renewals_told(part, order, unit) for part in told.split(AGAIN)]
        whens = [when for occasion in asked for when in occasion or ()]
        n = len(whens) + (len(asked) > 1 and not asked[0] and bool(asked[1]))
        spans = [_flat(when) for when in whens] or [NO_SPAN * 2]
        rows += [(told, order, unit, n, asked == [None] * len(asked), *span) for span in spans]
    schema = {**dict.fromkeys(KEY, pl.String), "n_whens": pl.Int64, "unread": pl.Boolean, **RENEWAL}
    return pl.DataFrame(rows, schema=schema, orient="row")


def _renewals_told(told: str, order: str, unit: str) -> tuple[When, ...] | None:
    """The renewals in all cells together; what one cell does not make clear another may."""
    if (whole := read_when(told, order=order, unit=unit)) is not None:
        return whole
    cells = [read_when(cell, order=order, unit=unit) for cell in told.split(BETWEEN_CELLS)]
    return tuple(when for cell in cells for when in cell or ()) or None


def _flat(when: When) -> tuple[object, ...]:
    return (*_cells(when.time), *_cells(when.distance))


def _cells(span: Span | None) -> tuple[object, ...]:
    return NO_SPAN if span is None else astuple(span)


def _with_whens(stated: pl.DataFrame, whens: pl.DataFrame) -> pl.DataFrame:
    """Each answer with how many renewals it tells of, and how often its part was renewed.

    Where the form asks for a second time and none is given, the part was renewed once.
    """
    summed = whens.select(*KEY, "n_whens", "unread").unique()
    rows = stated.join(summed, on=KEY, how="left", maintain_order="left").with_columns(
        pl.col("n_whens").fill_null(0), pl.col("unread").fill_null(False)
    )
    counted = pl.when("asked_again" & (pl.col("n_whens") > 0)).then("n_whens")
    times = pl.max_horizontal(
        pl.coalesce("times", counted), pl.when(pl.col("times").is_not_null()).then("n_whens")
    )
    return rows.with_columns(times=times)


def _renewals(judged: pl.DataFrame, whens: pl.DataFrame) -> pl.DataFrame:
    """Accepted answers, and those of who does not know, with each renewal that they tell of."""
    counted = (pl.col("fate") == "accepted") | (pl.col("reason") == UNSURE)
    kept = judged.filter(counted).select(
        pl.col("number").alias("respondent"), "component", "times", "why", *KEY, state="read"
    )
    spans = whens.drop("n_whens", "unread")
    return kept.join(spans, on=KEY, how="left", maintain_order="left").drop(KEY)


def _unread(judged: pl.DataFrame) -> pl.DataFrame:
    """What was not understood, with who said it: respondent, column, text."""
    parts = (
        ("when", "told", pl.col("unread")),
        ("state", "state", pl.col("reason") == "state not understood"),
        ("component", "component_written", pl.col("reason") == "component not known"),
    )
    return pl.concat(
        judged.filter(holds & pl.col(text).is_not_null()).select(
            pl.col("number").alias("respondent"), column=pl.lit(column), text=text
        )
        for column, text, holds in parts
    )


def _problems(judged: pl.DataFrame) -> pl.DataFrame:
    """The rows not accepted; what was written stays out, since it may say who wrote it."""
    return judged.filter(pl.col("fate") != "accepted").select(
        "file", "row", "fate", "reason", column="blame", value=pl.lit(None, pl.String), mend="mend"
    )
