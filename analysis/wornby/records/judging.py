"""Which rows can be used, which are set aside and which rejected: rules that can be read."""

from dataclasses import dataclass
from datetime import date

import polars as pl

from wornby.records.catalogue import Catalogue
from wornby.records.loading import EMPTY, HEADER_AGAIN, OTHER_TABLE, TOO_LONG, TOTAL

NO_DATE = pl.col("date_written").is_null()
UNREADABLE = pl.col("date").is_null()
NO_VEHICLE = pl.col("vehicle").is_null()
UNKNOWN_VEHICLE = ~pl.col("known")
NO_AGE = pl.col("first_registered").is_null()
TOO_EARLY = pl.col("date") < pl.col("first_registered")


@dataclass(frozen=True, slots=True)
class Rule:
    """A reason not to accept a row: what it is called, when it holds and what mends it."""

    fate: str
    reason: str
    column: str
    holds: pl.Expr
    mend: str


def _dated(until: date) -> tuple[Rule, ...]:
    return (
        *OUT_OF_PLACE,
        Rule("rejected", "no date", "date", NO_DATE, "write the day of the job"),
        Rule("rejected", "unreadable date", "date", UNREADABLE, "write the date as the others are"),
        Rule(
            "rejected",
            "date after the close of records",
            "date",
            pl.col("date") > until,
            "mend the year, or records_until in workshop.toml",
        ),
        Rule("rejected", "no vehicle", "vehicle", NO_VEHICLE, "write the registration"),
    )


OUT_OF_PLACE = tuple(
    Rule(fate, why, "row", pl.col("out_of_place") == why, mend)
    for fate, why, mend in (
        ("set aside", EMPTY, "nothing: nothing stands in it"),
        ("rejected", TOO_LONG, "put quotation marks around the cell that holds a separator"),
        ("set aside", HEADER_AGAIN, "nothing: it is no row"),
        ("set aside", TOTAL, "nothing: it is no row"),
        ("set aside", OTHER_TABLE, "nothing: layout.toml says so"),
    )
)
"""Rows that are none of the table's."""

VEHICLE_UNKNOWN = (
    Rule(
        "set aside",
        "vehicle not in vehicles",
        "vehicle",
        UNKNOWN_VEHICLE,
        "add it to the vehicles table, or mend the registration",
    ),
    Rule(
        "set aside",
        "first registered unknown",
        "vehicle",
        NO_AGE,
        "write the vehicle's first registration in the vehicles table",
    ),
    Rule(
        "set aside",
        "before first registered",
        "date",
        TOO_EARLY,
        "mend the date, or the vehicle's first registration",
    ),
)
"""Rows that serve for costs but not for lives."""

REPEATED = Rule(
    "set aside", "repeated row", "vehicle", pl.col("repeated"), "nothing: the first one is used"
)


def job_line_rules(catalogue: Catalogue) -> tuple[Rule, ...]:
    """The rules for job lines, in the order in which they are tried."""
    nothing = pl.col("text").is_null() & pl.col("part_number").is_null()
    below_zero = (pl.col("labour_hours") < 0) | (pl.col("quantity") == 0)
    refund = (pl.col("quantity") < 0) | (pl.col("price_net") < 0)
    return (
        *_dated(catalogue.records_until),
        Rule("rejected", "nothing written", "text", nothing, "say what was done"),
        REPEATED,
        Rule(
            "set aside",
            "unreadable number",
            "unreadable",
            pl.col("unreadable").is_not_null(),
            "write a number",
        ),
        Rule(
            "set aside",
            "kind not understood",
            "kind",
            pl.col("kind_unknown"),
            "add the word to [file.words.kind] in layout.toml",
        ),
        Rule("set aside", "credit or refund", "text", refund, "nothing: a credit is no work"),
        Rule(
            "set aside", "credited later", "text", pl.col("credited"), "nothing: it was taken back"
        ),
        Rule(
            "set aside",
            "quantity zero or hours below zero",
            "quantity",
            below_zero,
            "mend the quantity or the hours",
        ),
        *VEHICLE_UNKNOWN,
    )


def inspection_rules(catalogue: Catalogue) -> tuple[Rule, ...]:
    """The rules for inspections."""
    return (
        *_dated(catalogue.records_until),
        Rule(
            "rejected",
            "component not in workshop.toml",
            "component",
            ~pl.col("component").is_in(list(catalogue.components)).fill_null(False),
            "name a component as workshop.toml does",
        ),
        Rule(
            "rejected",
            "condition not understood",
            "condition",
            ~pl.col("condition").is_in(["sound", "degraded", "failed"]).fill_null(False),
            "add the word to [file.words.condition] in layout.toml",
        ),
        Rule(
            "set aside",
            "no such position",
            "position",
            ~_place_known(catalogue),
            "name a position as workshop.toml does, or leave it empty for all",
        ),
        REPEATED,
        *VEHICLE_UNKNOWN,
    )


def _place_known(catalogue: Catalogue) -> pl.Expr:
    """Whether a look's position is one of the component's; a component in one place has any."""
    places = {name: list(c.positions) for name, c in catalogue.components.items()}
    known = pl.col("component").replace_strict(
        places, default=None, return_dtype=pl.List(pl.String)
    )
    anywhere = pl.col("position").is_null() | (known.list.len() == 0)
    return (anywhere | known.list.contains(pl.col("position"))).fill_null(True)


def reading_rules(catalogue: Catalogue) -> tuple[Rule, ...]:
    """The rules for odometer readings."""
    none = pl.col("odometer_mi").is_null()
    return (
        *_dated(catalogue.records_until),
        Rule("rejected", "no odometer", "odometer", none, "write the reading"),
        *VEHICLE_UNKNOWN,
    )


def vehicle_rules(catalogue: Catalogue) -> tuple[Rule, ...]:
    """The rules for vehicles; `date` stands for first registered here."""
    return (
        *OUT_OF_PLACE,
        Rule("rejected", "no registration", "vehicle", NO_VEHICLE, "write the registration"),
        REPEATED,
        Rule(
            "set aside",
            "one registration, two vehicles",
            "vehicle",
            pl.col("ambiguous"),
            "give each its own registration, or remove the wrong one",
        ),
        Rule(
            "set aside",
            "no first registration",
            "date",
            NO_DATE,
            "write it: without it no age is known",
        ),
        Rule(
            "set aside",
            "unreadable first registration",
            "date",
            UNREADABLE,
            "write the date as the others are",
        ),
        Rule(
            "set aside",
            "first registered after the close of records",
            "date",
            pl.col("date") > catalogue.records_until,
            "mend the year",
        ),
    )


def judge(frame: pl.DataFrame, rules: tuple[Rule, ...]) -> pl.DataFrame:
    """Add fate, reason and the column to blame: the first rule that holds decides."""
    decided = pl.coalesce(
        *(pl.when(rule.holds).then(pl.lit(n, pl.Int16)) for n, rule in enumerate(rules)),
        pl.lit(len(rules), pl.Int16),
    )
    key = pl.DataFrame(
        {
            "rule": range(len(rules) + 1),
            "fate": [*(rule.fate for rule in rules), "accepted"],
            "reason": [*(rule.reason for rule in rules), ""],
            "blame": [*(rule.column for rule in rules), ""],
            "mend": [*(rule.mend for rule in rules), ""],
        },
        schema_overrides={"rule": pl.Int16},
    )
    judged = frame.with_columns(rule=decided)
    return judged.join(key, on="rule", how="left", maintain_order="left").drop("rule")
