"""The lines of a job that name one of the fourteen components, each with what it says."""

import numpy as np
import polars as pl

from wornby.demo.items import VISIT
from wornby.demo.phrases import WORDING, filled, named, of_each_component, pick
from wornby.demo.places import World

LABEL = pl.Struct(
    {name: pl.String for name in ("component", "position", "action", "reason", "grade")}
)
LINE = {
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
    said = {
        "reason": nothing if reason is None else reason,
        "grade": nothing if grade is None else grade,
    }
    at = [
        pl.struct(
            "component",
            position=pl.col("positions").list.get(n, null_on_oob=True),
            action=action if isinstance(action, pl.Expr) else pl.lit(action),
            **said,
        )
        for n in (0, 1)
    ]
    two = pl.col("positions").list.len() == 2
    return pl.when(two).then(pl.concat_list(*at)).otherwise(pl.concat_list(at[0]))


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
        told = pick(
            told.with_columns(by=pl.lit(templates)),
            WORDING["finding"],
            by="by",
            into="template",
            rng=rng,
        )
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


def with_labour_price(rows: pl.DataFrame, world: World) -> pl.DataFrame:
    """Price and cost of the hours at the rates of the day."""
    money = world.catalogue["money"]
    hours = pl.col("labour_hours") * pl.col("growth")
    return rows.with_columns(
        price_net=(hours * money["labour_price_per_hour"]).round(2),
        cost_net=(hours * money["labour_cost_per_hour"]).round(2),
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


def part_lines(items: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """The parts fitted, with a number whose beginning tells the grade unless it is missing."""
    rows = items.filter(pl.col("cause") != "advisory").with_columns(
        quantity=pl.col("n").cast(pl.Float64)
    )
    u = pl.Series(rng.random(rows.height))
    missing = pl.Series(rng.random(rows.height) < world.parameters.part_number_missing)
    suffix = pl.Series(rng.choice(["A", "A", "B", "C"], rows.height))
    prefix = {
        grade: words[0] for grade, words in world.catalogue["words"]["grade_of_part_number"].items()
    }
    code = {c["name"]: c["part_codes"][0] for c in world.catalogue["component"]}
    number = pl.concat_str(
        pl.col("grade").replace_strict(prefix),
        pl.col("component").replace_strict(code),
        suffix,
        separator="-",
    )
    bare = (pl.col("n") == 1) & ~pl.col("twice") & (u > 0.85)
    rows = rows.with_columns(
        part_number=pl.when(~missing).then(number),
        grade_said=pl.when(u < pl.when(missing).then(0.30).otherwise(0.05)).then("grade"),
        side=pl.when(bare).then(pl.lit("none")).otherwise("side"),
        positions=pl.when(bare)
        .then(pl.lit([None], dtype=pl.List(pl.String)))
        .otherwise("positions"),
    )
    known = pl.col("part_number").is_not_null() | pl.col("grade_said").is_not_null()
    grade = pl.when(known).then("grade").otherwise(pl.lit("unknown"))
    rows = named(with_part_price(rows, world=world, rng=rng), world=world, rng=rng)
    rows = pick(
        rows.with_columns(by=pl.lit("text")),
        WORDING["part_line"],
        by="by",
        into="template",
        rng=rng,
    )
    rows = rows.with_columns(
        text=filled("template", ["name"]),
        labels=labels("renewed", reason=pl.col("reason"), grade=grade),
    )
    return lines(rows, rank=3, kind="part")


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
