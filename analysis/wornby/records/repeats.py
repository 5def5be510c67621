"""The same row twice, and work that was credited afterwards."""

import polars as pl

SAME_JOB_LINE = (
    "job", "vehicle", "date", "kind", "text", "part_number", "quantity", "labour_hours",
    "price_net",
)  # fmt: skip
SAME_INSPECTION = ("vehicle", "date", "component", "position", "condition")
SAME_VEHICLE = ("vehicle", "date", "version")


def mark_repeated(frame: pl.DataFrame, columns: tuple[str, ...]) -> pl.DataFrame:
    """Say of each row whether an earlier one has the same values: column repeated."""
    same = frame.select(columns).hash_rows()
    return frame.with_columns(repeated=~same.is_first_distinct())


def mark_credited(lines: pl.DataFrame) -> pl.DataFrame:
    """Say of each line whether a later credit takes it back: column credited.

    A credit is a line with a negative price or quantity; it takes back the latest line of the
    same vehicle, on or before its day, with the same amount and no other part number, that no
    earlier credit has taken back.
    """
    amount = pl.col("price_net").abs().round(2)
    numbered = lines.with_row_index("line").with_columns(amount=amount)
    refund = (pl.col("quantity") < 0) | (pl.col("price_net") < 0)
    credits = numbered.filter(refund & ~pl.col("repeated") & (pl.col("amount") > 0))
    charged = numbered.filter(~refund.fill_null(False) & ~pl.col("repeated"))
    keys = ["vehicle", "amount"]
    pairs = credits.select(*keys, "date", "part_number", credit="line").join(
        charged.select(*keys, "line", charged_on="date", charged_part="part_number"), on=keys
    )
    same_part = pl.col("part_number").is_null() | (
        pl.col("part_number") == pl.col("charged_part")
    ).fill_null(False)
    possible = pairs.filter((pl.col("charged_on") <= pl.col("date")) & same_part).sort(
        "credit", "charged_on", "line", descending=[False, True, True]
    )
    taken_back: set[int] = set()
    done: set[int] = set()
    for credit, line in possible.select("credit", "line").iter_rows():
        if credit not in done and line not in taken_back:
            done.add(credit)
            taken_back.add(line)
    return numbered.with_columns(credited=pl.col("line").is_in(sorted(taken_back))).drop(
        "line", "amount"
    )
