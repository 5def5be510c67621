"""Ready-made lives: for an analyst whose ages were counted elsewhere."""

from dataclasses import dataclass
from pathlib import Path

import polars as pl

from wornby.errors import RecordError
from wornby.ledger import Ledger, ledger_from
from wornby.records.judging import OUT_OF_PLACE, Rule, judge
from wornby.records.layout import FileLayout, read_layout
from wornby.records.loading import load_text
from wornby.records.values import read_number, unreadable_number
from wornby.tables import LIVES

ENDINGS = ("failure", "failure before the first look", "in service")
FAILED = pl.col("ending") != "in service"
LIFE_RULES = (
    *OUT_OF_PLACE,
    Rule(
        "rejected",
        "no component",
        "component",
        pl.col("component").is_null() | pl.col("unit").is_null(),
        "name the component, and the unit of its ages",
    ),
    Rule(
        "rejected",
        "unreadable number",
        "unreadable",
        pl.col("unreadable").is_not_null() | (pl.col("count") % 1 != 0).fill_null(False),
        "write ages as numbers and counts as whole numbers",
    ),
    Rule("rejected", "no age", "lower", pl.col("lower").is_null(), "write the age as a number"),
    Rule(
        "rejected",
        "ending not understood",
        "ending",
        ~pl.col("ending").is_in(ENDINGS).fill_null(False),
        "add the word to [file.words.ending] in layout.toml",
    ),
    Rule(
        "rejected",
        "negative age",
        "lower",
        pl.min_horizontal("lower", "upper", "entry") < 0,
        "count ages from new",
    ),
    Rule(
        "rejected",
        "no age by which it had failed",
        "upper",
        FAILED & pl.col("upper").is_null(),
        "write it, or call the part in service",
    ),
    Rule(
        "rejected",
        "bounds the wrong way round",
        "upper",
        FAILED & (pl.col("upper") < pl.col("lower")),
        "write the earlier age as the lower bound",
    ),
    Rule(
        "rejected",
        "watched before it began",
        "entry",
        pl.col("lower") < pl.col("entry"),
        "mend entry or age",
    ),
    Rule(
        "set aside",
        "failed when first watched",
        "entry",
        FAILED & (pl.col("upper") == pl.col("entry").fill_null(0.0)),
        "nothing: such a life says nothing of how long parts last",
    ),
    Rule("rejected", "count below one", "count", pl.col("count") < 1, "write how many lives"),
)


@dataclass(frozen=True, eq=False, slots=True)
class Lives:
    """Lives that were counted before: the accepted rows, the others and their account."""

    table: pl.DataFrame
    problems: pl.DataFrame
    ledger: Ledger


def holds_lives(folder: Path) -> bool:
    """Whether the folder's layout names a file of ready-made lives."""
    return any(layout.table == "lives" for layout in read_layout(folder / "layout.toml"))


def read_lives(folder: Path) -> Lives:
    """Read the folder's ready-made lives by its layout.toml."""
    layouts = [entry for entry in read_layout(folder / "layout.toml") if entry.table == "lives"]
    if not layouts:
        raise RecordError("layout.toml: no [[file]] with table = 'lives'; add one")
    judged = judge(pl.concat(_typed(folder, layout) for layout in layouts), LIFE_RULES)
    if judged.is_empty():
        raise RecordError(f"{layouts[0].path}: has a header but no rows; export it again")
    odd = judged.filter(pl.col("fate") != "accepted")
    if odd.height == judged.height:
        raise RecordError(
            f"{judged['file'][0]}: none of {judged.height} rows can be used, the first because of "
            f"{judged['reason'][0]}: {judged['mend'][0]}"
        )
    return Lives(
        table=LIVES.shape(judged.filter(pl.col("fate") == "accepted")),
        problems=odd.select("file", "row", "fate", "reason", "blame", "mend"),
        ledger=ledger_from("lives", judged),
    )


def _typed(folder: Path, layout: FileLayout) -> pl.DataFrame:
    text = load_text(folder, layout)

    def number(name: str) -> pl.Expr:
        given = name in text.columns
        return read_number(name, layout) if given else pl.lit(None, pl.Float64).alias(name)

    numbers = [name for name in ("entry", "lower", "upper", "count") if name in text.columns]
    typed = text.select(
        "file", "row", "out_of_place", "component", "unit", unreadable_number(numbers, layout),
        number("entry"), number("lower"), number("upper"), number("count"),
        pl.col("ending").replace(dict(layout.words.get("ending", {}))),
    )  # fmt: skip
    if layout.successive_looks:
        before = pl.col("lower").shift(1, fill_value=0.0).over("file")
        failed = FAILED & pl.col("upper").is_null()
        typed = typed.with_columns(
            lower=pl.when(failed).then(before).otherwise("lower"),
            upper=pl.when(failed).then("lower").otherwise("upper"),
        )
    first_look = pl.col("ending") == "failure before the first look"
    return typed.with_columns(
        lower=pl.when(first_look).then(pl.col("entry").fill_null(0.0)).otherwise("lower"),
        upper=pl.when(first_look).then(pl.coalesce("upper", "lower")).otherwise("upper"),
    )
