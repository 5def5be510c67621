"""Which answers and which counts of vehicles can be used: rules that can be read."""

import polars as pl

from wornby.records.judging import OUT_OF_PLACE, REPEATED, Rule
from wornby.records.values import EARLIEST_YEAR
from wornby.survey.told_when import SHORTEST_MI

LONGEST_MI = 2_000_000.0
"""No odometer shows more (common practice, no source)."""


def _year_rule(column: str, what: str) -> Rule:
    year = pl.col(column)
    odd = year.is_null() | (year % 1 != 0) | (year < EARLIEST_YEAR) | (year >= 10_000)
    return Rule(
        "rejected", f"no {what}", column, odd.fill_null(True), "write a year in four digits"
    )


NO_VERSION = Rule(
    "rejected", "no version", "version", pl.col("version").is_null(), "write the version"
)
ANSWER_RULES = (
    *OUT_OF_PLACE,
    Rule(
        "rejected",
        "no respondent",
        "respondent",
        pl.col("respondent").is_null(),
        'number the answers, or write respondent = "row" in layout.toml',
    ),
    Rule(
        "set aside",
        "respondent answered twice",
        "respondent",
        pl.col("repeated"),
        "remove the answer that does not hold; the first one is used",
    ),
    _year_rule("model_year", "model year"),
    NO_VERSION,
)
ODOMETER_RULES = (
    Rule(
        "set aside",
        "no odometer",
        "odometer_mi",
        pl.col("odometer_mi_written").is_null(),
        "nothing: the rest of the answer is used",
    ),
    Rule(
        "set aside",
        "odometer too low: perhaps in thousands",
        "odometer_mi",
        (pl.col("odometer_mi") >= 0) & (pl.col("odometer_mi") < SHORTEST_MI),
        "write it in full, 84000 for 84 thousand; the rest of the answer is used",
    ),
    Rule(
        "set aside",
        "unreadable odometer",
        "odometer_mi",
        pl.col("odometer_mi").is_null() | ~pl.col("odometer_mi").is_between(0, LONGEST_MI),
        "write a number; the rest of the answer is used",
    ),
)
SHARE_RULES = tuple(
    Rule("set aside", why, "share", holds, "nothing: the answer is counted, and never shown alone")
    for why, holds in (
        ("asked not to be shown alone", pl.col("share") == "no"),
        ("did not say whether it may be shown alone", pl.col("share_written").is_null()),
        ("whether it may be shown alone: not understood", pl.col("share").is_null()),
    )
)
POPULATION_RULES = (
    *OUT_OF_PLACE,
    _year_rule("model_year", "model year"),
    NO_VERSION,
    _year_rule("calendar_year", "calendar year"),
    Rule(
        "rejected",
        "no number on the road",
        "on_the_road",
        pl.col("on_the_road").is_null() | (pl.col("on_the_road") < 0),
        "write how many were on the road",
    ),
    REPEATED,
    Rule(
        "rejected",
        "two numbers for the same vehicles",
        "on_the_road",
        pl.col("ambiguous"),
        "keep the right number; until then none is used",
    ),
)
YEAR_MENDED = "model year taken from what was written about it"
ODOMETER_MENDED = "odometer told as a range or in words: its middle is taken"


def mended(judged: pl.DataFrame, column: str, reason: str) -> pl.DataFrame:
    """The accepted rows whose number is not the one written say so by their reason."""
    as_number = (
        pl.col(f"{column}_written")
        .str.replace_all(r"[,\s]", "")
        .str.replace(r"(?i)(miles|mile|mi|kms|km)$", "")
        .cast(pl.Float64, strict=False)
    )
    changed = (pl.col("fate") == "accepted") & as_number.is_null()
    return judged.with_columns(reason=pl.when(changed).then(pl.lit(reason)).otherwise("reason"))
