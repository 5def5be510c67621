"""What was found and what was renewed, as findings and labour lines."""

import numpy as np
import polars as pl

from wornby.demo.items import VISIT
from wornby.demo.line_shape import labels, lines, with_labour_price
from wornby.demo.phrases import WORDING, filled, named, of_each_component, pick, pick_one
from wornby.demo.places import World


def finding_lines(items: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Lines that say what was wrong without saying that anything was renewed."""
    advised = items.filter(pl.Series(rng.random(items.height) < 0.5), pl.col("cause") == "advisory")
    chunks = []
    for rows, templates in (
        (items.filter(said="elsewhere", cause="failure"), "failure"),
        (items.filter(said="elsewhere", cause="degraded"), "degraded"),
        (advised, "advised"),
    ):
        told = named(rows.with_columns(grade_said=pl.lit(None, pl.String)), world=world, rng=rng)
        told = pick_one(told, WORDING["finding"][templates], into="template", rng=rng)
        action = "failed" if templates == "failure" else "degraded"
        told = told.with_columns(text=filled("template", ["name", "why"]), labels=labels(action))
        chunks.append(lines(told, rank=1, kind="other"))
    return pl.concat(chunks)


def complaint_lines(items: pl.DataFrame, rng: np.random.Generator) -> pl.DataFrame:
    """What the customer said; it names no component."""
    failed = items.filter(cause="failure")
    chosen = pl.Series(rng.random(failed.height) < 0.3)
    chunks = [
        pick(rows, of_each_component(words), by="component", into="text", rng=rng)
        for rows, words in (
            (failed.filter(pl.col("said") == "unnamed"), "symptom"),
            (failed.filter(chosen, pl.col("said") != "unnamed"), "complaint"),
        )
    ]
    return lines(pl.concat(chunks), rank=0, kind="other")


def labour_lines(items: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """The labour of each renewal, the access with the first of its group."""
    rows = with_hours(items.filter(pl.col("cause") != "advisory"), world=world, rng=rng)
    names_grade = pl.Series(rng.random(rows.height) < 0.05)
    rows = rows.with_columns(grade_said=pl.when(names_grade).then("grade"))
    rows = rows.with_columns(
        labels=labels(
            "renewed", reason=pl.col("reason"), grade=pl.col("grade_said").fill_null("unknown")
        )
    )
    rows = pick(
        rows.with_columns(by=template_key()), WORDING["renewed"], by="by", into="template", rng=rng
    )
    rows = together(named(rows, world=world, rng=rng), rng)
    rows = pick(rows, WORDING["access"], by="group", into="access", rng=rng)
    opened = pl.col("first") & pl.Series(rng.random(rows.height) < 0.35)
    text = filled("template", ["name", "why"])
    rows = rows.with_columns(
        text=pl.when(opened).then(pl.col("access") + " " + text).otherwise(text)
    )
    return lines(in_one_line(rows, rng), rank=2, kind="labour")


def template_key() -> pl.Expr:
    """Which sort of sentence says it."""
    cause, said = pl.col("cause"), pl.col("said") == "here"
    due = pl.when(pl.col("by_age")).then(pl.lit("due_age")).otherwise(pl.lit("due_mileage"))
    return (
        pl.when(~said)
        .then(pl.lit("silent"))
        .when(cause == "due")
        .then(due)
        .when(cause == "precaution")
        .then(pl.lit("precaution"))
        .when(cause == "found")
        .then(pl.lit("found"))
        .otherwise(pl.lit("said"))
    )


def with_hours(items: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Hours booked: access and own hours with a lognormal spread, and what they cost."""
    own = {c["name"]: c["own_hours"] for c in world.catalogue["component"]}
    access = {g["name"]: g["access_hours"] for g in world.catalogue["access_group"]}
    spread = pl.Series(np.exp(world.parameters.hours_sd_log * rng.standard_normal(items.height)))
    opened = (
        pl.when("first")
        .then(pl.col("group").replace_strict(access, return_dtype=pl.Float64))
        .otherwise(0.0)
    )
    planned = opened + pl.col("component").replace_strict(own, return_dtype=pl.Float64) * pl.col(
        "n"
    )
    return with_labour_price(
        items.with_columns(labour_hours=(planned * spread).round(1).clip(0.1)), world
    )


def together(rows: pl.DataFrame, rng: np.random.Generator) -> pl.DataFrame:
    """Some precautions of one group share a sentence: "A, B and C renewed as a precaution"."""
    joins = (pl.col("cause") == "precaution") & (pl.col("said") == "here")
    rows = rows.with_row_index("row").with_columns(chance=rng.random(rows.height))
    several = joins & (joins.sum().over(*VISIT, "group") > 1)
    likes = pl.col("chance").first().over(*VISIT, "group") < 0.5
    rows = rows.with_columns(joins=several & likes)
    apart = pl.when("joins").then(-1).otherwise(pl.col("row").cast(pl.Int64))
    summed = ("labour_hours", "price_net", "cost_net")
    kept = ("template", "first", "why", "said")
    return (
        rows.group_by(*VISIT, "group", apart.alias("line"), maintain_order=True)
        .agg(
            pl.col(*kept).first(),
            pl.col(*summed).sum(),
            pl.col("labels").explode(),
            listed().alias("name"),
        )
        .drop("line")
    )


def listed() -> pl.Expr:
    """Names in a row: A; A and B; A, B and C."""
    name = pl.col("name")
    before = name.head(pl.len() - 1).str.join(", ")
    return pl.when(pl.len() == 1).then(name.first()).otherwise(before + " and " + name.last())


def in_one_line(rows: pl.DataFrame, rng: np.random.Generator) -> pl.DataFrame:
    """Some workshops write all of one strip-down in one line, when each part's reason is said."""
    all_said = (pl.col("said") == "here").all().over(*VISIT, "group")
    rows = rows.with_columns(chance=rng.random(rows.height))
    likes = pl.col("chance").first().over(*VISIT, "group") < 0.1
    apart = pl.when(all_said & likes).then(-1).otherwise(pl.int_range(pl.len()))
    summed = ("labour_hours", "price_net", "cost_net")
    return rows.group_by(*VISIT, "group", apart.alias("line"), maintain_order=True).agg(
        pl.col("text").str.join("; "), pl.col(*summed).sum().round(2), pl.col("labels").explode()
    )
