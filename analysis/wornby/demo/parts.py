"""The parts fitted at a job, as invoiced."""

import numpy as np
import polars as pl

from wornby.demo.line_shape import labels, lines
from wornby.demo.phrases import WORDING, filled, named, pick_one
from wornby.demo.places import World


def part_lines(items: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """The parts fitted; the number tells the grade, unless it is missing."""
    rows = items.filter(pl.col("cause") != "advisory")
    rows = with_part_number(rows, world=world, rng=rng).with_columns(
        chance=rng.random(rows.height), quantity=pl.col("n").cast(pl.Float64)
    )
    no_side = (pl.col("n") == 1) & ~pl.col("twice") & (pl.col("chance") > 0.85)
    nowhere = pl.lit([None], dtype=pl.List(pl.String))
    says_grade = pl.when(pl.col("part_number").is_null()).then(0.30).otherwise(0.05)
    rows = rows.with_columns(
        grade_said=pl.when(pl.col("chance") < says_grade).then("grade"),
        side=pl.when(no_side).then(pl.lit("none")).otherwise("side"),
        positions=pl.when(no_side).then(nowhere).otherwise("positions"),
    )
    known = pl.any_horizontal(pl.col("part_number", "grade_said").is_not_null())
    grade = pl.when(known).then("grade").otherwise(pl.lit("unknown"))
    rows = named(with_part_price(rows, world=world, rng=rng), world=world, rng=rng)
    rows = pick_one(rows, WORDING["part_line"]["text"], into="template", rng=rng)
    rows = rows.with_columns(
        text=filled("template", ["name"]),
        labels=labels("renewed", reason=pl.col("reason"), grade=grade),
    )
    return lines(rows, rank=3, kind="part")


def with_part_number(rows: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """A number that begins with the letters of the grade and the code of the component."""
    letters = world.catalogue["words"]["grade_of_part_number"]
    prefix = {grade: words[0] for grade, words in letters.items()}
    code = {c["name"]: c["part_codes"][0] for c in world.catalogue["component"]}
    rows = pick_one(rows, ["A", "A", "B", "C"], into="issue", rng=rng)
    number = pl.concat_str(
        pl.col("grade").replace_strict(prefix),
        pl.col("component").replace_strict(code),
        "issue",
        separator="-",
    )
    missing = pl.Series(rng.random(rows.height) < world.parameters.part_number_missing)
    return rows.with_columns(part_number=pl.when(~missing).then(number))


def with_part_price(rows: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Price and cost of the parts by grade, as they were that year."""
    components = world.catalogue["component"]
    price = {f"{c['name']} {g}": p for c in components for g, p in c["part_price_net"].items()}
    cost = {f"{c['name']} {g}": p for c in components for g, p in c["part_cost_net"].items()}
    key = pl.col("component") + " " + pl.col("grade")
    times = pl.col("growth") * pl.col("n") * pl.Series(1 + 0.03 * rng.standard_normal(rows.height))
    return rows.with_columns(
        price_net=(key.replace_strict(price, return_dtype=pl.Float64) * times).round(2),
        cost_net=(key.replace_strict(cost, return_dtype=pl.Float64) * times).round(2),
    )
