"""Answers on components: every one accepted, set aside or rejected, with its reason."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

from wornby.ledger import Ledger, ledger_from
from wornby.records.judging import OUT_OF_PLACE, Rule, judge
from wornby.records.layout import FileLayout
from wornby.records.repeats import mark_repeated
from wornby.survey.component_cells import Names, called, written_answers
from wornby.survey.dated_answers import KEY, told_renewals, with_times, with_told
from wornby.survey.told_states import read_grade, read_reason, read_state
from wornby.survey.unread_cells import not_understood
from wornby.tables import COMPONENT_ANSWERS

UNSURE = "don't know"
WHEN_UNREADABLE = "when not understood: taken as renewed at a time unknown"


@dataclass(frozen=True, eq=False, slots=True)
class ComponentAnswers:
    """What respondents said of components, as far as it was understood.

    `renewals` has a row for each renewal told, and one for an answer that tells of none:
    respondent, component, state (original, renewed, don't know), times (how often renewed;
    empty: not said), why, grade, and the columns of `RENEWAL`. Neither it nor `problems` is for
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

    `sheets` has file, row, known_as, whom the club's name means, number, the running one, and
    may_show of each answer to the survey that is used. `names` maps patterns to components;
    without any, each name is taken as it stands.
    """
    of_table = [layout for layout in layouts if layout.table == COMPONENT_ANSWERS.name]
    if not of_table:
        return None
    text = pl.concat([written_answers(folder, layout, names) for layout in of_table])
    stated = _stated(_numbered(text, sheets), names)
    whens = told_renewals(stated)
    rows = mark_repeated(with_times(stated, whens), ("number", "component", "read", "told"))
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
    alone = sheets.filter(~pl.col("known_as").is_duplicated())
    joined = text.join(
        sheets.select("file", "row", by_row="number"),
        on=["file", "row"],
        how="left",
        maintain_order="left",
    ).join(
        alone.select("known_as", by_name="number"), on="known_as", how="left", maintain_order="left"
    )
    number = pl.when(pl.col("file").is_in(own)).then("by_row").otherwise("by_name")
    shown = sheets.select("number", "may_show")
    return joined.with_columns(number=number).join(
        shown, on="number", how="left", maintain_order="left"
    )


def _stated(text: pl.DataFrame, names: Names) -> pl.DataFrame:
    """Component, state, reason and grade read, each distinct text once; and what tells of when."""
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
    return (
        with_told(stated)
        .with_columns(
            component=pl.col("component").replace_strict(
                parts, default=None, return_dtype=pl.String
            ),
            component_written=pl.col("component"),
            why=_each_read(text, "reason_written", read_reason),
            grade=_each_read(text, "grade_written", read_grade),
        )
        .with_columns(
            read=pl.when(pl.col("state").is_null() & pl.col("told").is_not_null())
            .then(pl.lit("renewed"))
            .otherwise("read")
        )
    )


def _each_read(text: pl.DataFrame, column: str, read: Callable[[str], str]) -> pl.Expr:
    """A column read, each distinct text once; unknown where nothing was written."""
    said = {cell: read(cell) for cell in text[column].unique().drop_nulls()}
    return pl.col(column).replace_strict(said, default="unknown", return_dtype=pl.String)


def _renewals(judged: pl.DataFrame, whens: pl.DataFrame) -> pl.DataFrame:
    """Accepted answers, and those of who does not know, with each renewal that they tell of."""
    counted = (pl.col("fate") == "accepted") | (pl.col("reason") == UNSURE)
    kept = judged.filter(counted).select(
        pl.col("number").alias("respondent"),
        "component",
        "times",
        "why",
        "grade",
        *KEY,
        state="read",
    )
    spans = whens.drop("n_whens", "unread")
    return kept.join(spans, on=KEY, how="left", maintain_order="left").drop(KEY)


def _unread(judged: pl.DataFrame) -> pl.DataFrame:
    """What was not understood, with who said it: respondent, column, text.

    The text of who does not want to be shown is left out.
    """
    parts = (
        ("when", "told", pl.col("unread")),
        ("distance", "distance", pl.col("distance_unread")),
        ("state", "state", pl.col("reason") == "state not understood"),
        ("component", "component_written", pl.col("reason") == "component not known"),
    )
    return pl.concat(
        judged.filter(holds & pl.col(text).is_not_null()).select(
            pl.col("number").alias("respondent"),
            column=pl.lit(column),
            text=pl.when(pl.col("may_show")).then(text).otherwise(pl.lit("")),
        )
        for column, text, holds in parts
    )


def _problems(judged: pl.DataFrame) -> pl.DataFrame:
    """The rows not accepted; what was written stays out, since it may say who wrote it."""
    return judged.filter(pl.col("fate") != "accepted").select(
        "file", "row", "fate", "reason", column="blame", value=pl.lit(None, pl.String), mend="mend"
    )
