"""One shape for every job line of the demo, with what a careful reader takes from it."""

import polars as pl

from wornby.demo.places import World

LABEL = pl.Struct(dict.fromkeys(("component", "position", "action", "reason", "grade"), pl.String))
LINE: dict[str, pl.DataType | type[pl.DataType]] = {
    "vehicle": pl.Int64,
    "day": pl.Float64,
    "rank": pl.Float64,
    "kind": pl.String,
    "text": pl.String,
    "part_number": pl.String,
    "quantity": pl.Float64,
    "labour_hours": pl.Float64,
    "price_net": pl.Float64,
    "cost_net": pl.Float64,
    "labels": pl.List(LABEL),
}


def lines(frame: pl.DataFrame, *, rank: float, kind: str) -> pl.DataFrame:
    """The frame as job lines of one kind; columns it does not have are empty."""
    absent = [pl.lit(None, t).alias(c) for c, t in LINE.items() if c not in frame.columns]
    frame = frame.with_columns(absent).with_columns(kind=pl.lit(kind), rank=pl.lit(rank))
    return frame.select(pl.col(name).cast(dtype) for name, dtype in LINE.items())


def labels(
    action: str | pl.Expr, *, reason: pl.Expr | None = None, grade: pl.Expr | None = None
) -> pl.Expr:
    """What a careful reader takes from a line: one label for each position that it names."""
    nothing = pl.lit(None, pl.String)
    said = [
        (action if isinstance(action, pl.Expr) else pl.lit(action)).alias("action"),
        (nothing if reason is None else reason).alias("reason"),
        (nothing if grade is None else grade).alias("grade"),
    ]
    position = [pl.col("positions").list.get(n, null_on_oob=True).alias("position") for n in (0, 1)]
    at = [pl.struct(pl.col("component"), where, *said) for where in position]
    two = pl.col("positions").list.len() == 2
    return pl.when(two).then(pl.concat_list(*at)).otherwise(pl.concat_list(at[0]))


def with_labour_price(rows: pl.DataFrame, world: World) -> pl.DataFrame:
    """Price and cost of the hours at the rates of the day."""
    money = world.catalogue["money"]
    hours = pl.col("labour_hours") * pl.col("growth")
    return rows.with_columns(
        price_net=(hours * money["labour_price_per_hour"]).round(2),
        cost_net=(hours * money["labour_cost_per_hour"]).round(2),
    )
