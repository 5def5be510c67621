"""What was done at each visit, one row for each component and cause: what a job is billed from."""

import numpy as np
import polars as pl

from wornby.demo.fleet import day_number
from wornby.demo.outcomes import CAUSES
from wornby.demo.phrases import of_each_component, pick
from wornby.demo.places import World
from wornby.demo.visits import Book

REASON = {
    "failure": "failure",
    "degraded": "degraded finding",
    "found": "degraded finding",
    "due": "preventive renewal",
    "precaution": "preventive renewal",
}
VISIT = ("vehicle", "day")


def visit_items(book: Book, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """One row for each visit, component and cause.

    `side` is left, right, both, or none where it is not said or there is one place only;
    `positions` are the places that the record will name. `said` tells where the reason is
    written: here, elsewhere (in another line that names the component), unnamed (in one that
    does not), nowhere.
    """
    outcomes = book.outcomes.join(world.places.table(), on="place", maintain_order="left")
    items = outcomes.group_by(*VISIT, "component", "group", "cause", maintain_order=True).agg(
        pl.col("position"), pl.col("grade", "years").first(), n=pl.len()
    )
    items = items.with_columns(
        rank=pl.col("cause").replace_strict(
            {c: n for n, c in enumerate(CAUSES)}, return_dtype=pl.Int64
        ),
        twice=pl.len().over(*VISIT, "component") > 1,
        by_age=pl.col("years") >= world.parameters.belt_due_years,
        growth=price_growth(pl.col("day"), world),
        grade=pl.col("grade").replace_strict(
            dict(enumerate(world.parameters.grades)), return_dtype=pl.String
        ),
    ).sort(*VISIT, "group", "rank", "component")
    items = with_why(with_sides(with_first(items), world=world, rng=rng), rng)
    return with_said(items, world=world, rng=rng)


def price_growth(day: pl.Expr, world: World) -> pl.Expr:
    """Prices at a day as a share of those at the end of the records."""
    years = (day - day_number(world.parameters.records_until)) / 365.25
    return (1 + world.parameters.price_growth_per_year) ** years


def with_first(items: pl.DataFrame) -> pl.DataFrame:
    """Mark the item that pays for the access: the first in its group that was not just found."""
    pays = ~pl.col("cause").is_in(["found", "advisory"])
    return items.with_columns(first=pays & (pays.cum_sum().over(*VISIT, "group") == 1))


def with_sides(items: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Which side the record names: both, one, or none by oversight."""
    only = pl.col("position").list.first()
    forgotten = pl.Series(rng.random(items.height) < world.parameters.side_not_said)
    silent = only.is_null() | ((pl.col("n") == 1) & ~pl.col("twice") & forgotten)
    unnamed = pl.lit([None], dtype=pl.List(pl.String))
    return items.with_columns(
        side=pl.when(silent)
        .then(pl.lit("none"))
        .when(pl.col("n") == 2)
        .then(pl.lit("both"))
        .otherwise(only),
        positions=pl.when(silent).then(unnamed).otherwise("position"),
    )


def with_why(items: pl.DataFrame, rng: np.random.Generator) -> pl.DataFrame:
    """What was wrong with the part, in the workshop's words."""
    failure, degraded = of_each_component("failure"), of_each_component("degraded")
    words = {f"{c} failure": w for c, w in failure.items()}
    words |= {
        f"{c} {cause}": w
        for c, w in degraded.items()
        for cause in ("degraded", "found", "advisory")
    }
    items = items.with_columns(by=pl.col("component") + " " + pl.col("cause"))
    return pick(items, words, by="by", into="why", rng=rng).drop("by")


def with_said(items: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Where the reason is written, and the reason that the record then gives."""
    parameters = world.parameters
    u = pl.Series(rng.random(items.height))
    cause, faulty = pl.col("cause"), pl.col("cause").is_in(["failure", "degraded"])
    alone = (cause == "failure") & (faulty.sum().over(*VISIT) == 1)
    elsewhere = faulty & (u < parameters.reason_in_another_line)
    unnamed = elsewhere & alone & (u < parameters.reason_in_another_line / 5)
    nowhere = (cause == "precaution") & ~pl.col("twice") & (u < parameters.precaution_not_explained)
    said = pl.when(unnamed).then(pl.lit("unnamed")).when(elsewhere).then(pl.lit("elsewhere"))
    reason = cause.replace_strict(REASON, default=None, return_dtype=pl.String)
    return items.with_columns(
        said=said.when(nowhere).then(pl.lit("nowhere")).otherwise(pl.lit("here")),
        reason=pl.when(nowhere).then(pl.lit("unknown")).otherwise(reason),
    )
