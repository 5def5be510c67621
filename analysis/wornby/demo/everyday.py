"""The lines of a job that renew none of the fourteen components."""

from typing import Any

import numpy as np
import polars as pl

from wornby.demo.items import VISIT, price_growth
from wornby.demo.line_shape import labels, lines, with_labour_price
from wornby.demo.phrases import WORDING, filled, named, of_each_component, pick, pick_one
from wornby.demo.places import World, demo_data

ORDINARY = demo_data("ordinary.toml")["work"]


def ordinary_lines(visits: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Services, pads, tyres, habitation checks: the most of what a workshop writes."""
    visits = visits.with_columns(growth=price_growth(pl.col("day"), world))
    chunks = []
    for work in ORDINARY:
        done = pl.Series(rng.random(visits.height) < work["chance"])
        if work["on"] == "service":
            done &= visits["service"]
        for number, line in enumerate(work["lines"]):
            written = pl.Series(rng.random(visits.height) < world.parameters.materials_written_out)
            rows = visits.filter(done & (written if number else True))
            chunks.append(ordinary_line(rows, line, world=world, rng=rng))
    return pl.concat(chunks)


def ordinary_line(
    visits: pl.DataFrame, line: list[Any], *, world: World, rng: np.random.Generator
) -> pl.DataFrame:
    """One line of an ordinary piece of work at each of the visits."""
    kind, amount, price, cost, texts = line
    rows = pick_one(visits, texts, into="text", rng=rng)
    spread = pl.Series(np.exp(0.15 * rng.standard_normal(rows.height)))
    if kind == "labour":
        hours = (amount * spread).round(1).clip(0.1)
        return lines(
            with_labour_price(rows.with_columns(labour_hours=hours), world), rank=5, kind=kind
        )
    number = pl.Series(rng.integers(100, 999, rows.height)).cast(pl.String)
    has_number = pl.Series(rng.random(rows.height) < 0.4) & (kind == "part")
    rows = rows.with_columns(
        price_net=(price * pl.col("growth")).round(2),
        cost_net=(cost * pl.col("growth")).round(2),
        quantity=pl.lit(float(amount)) if amount else pl.lit(None),
        part_number=pl.when(has_number).then("MRW-9" + number + "-A"),
    )
    return lines(rows, rank=5, kind=kind)


def follow_on_lines(items: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """What the renewals entail: bled systems, oil, alignment; now and then forgotten."""
    after = {c["name"]: c["follow_on"] for c in world.catalogue["component"]}
    opened = {g["name"]: g["follow_on"] for g in world.catalogue["access_group"]}
    renewed = items.filter(pl.col("cause") != "advisory")
    lists = pl.List(pl.String)
    own = renewed.with_columns(
        follow_on=pl.col("component").replace_strict(after, return_dtype=lists)
    )
    groups = renewed.filter("first").with_columns(
        follow_on=pl.col("group").replace_strict(opened, return_dtype=lists)
    )
    wanted = (
        pl.concat([own, groups]).explode("follow_on", empty_as_null=True).drop_nulls("follow_on")
    )
    wanted = wanted.unique([*VISIT, "follow_on"], keep="first", maintain_order=True)
    wanted = wanted.filter(pl.Series(rng.random(wanted.height) < 0.96))
    return pl.concat(
        follow_on(wanted.filter(follow_on=work["name"]), work, world=world, rng=rng)
        for work in world.catalogue["follow_on"]
    )


def follow_on(
    rows: pl.DataFrame, work: dict[str, Any], *, world: World, rng: np.random.Generator
) -> pl.DataFrame:
    """The lines of one piece of follow-on work."""
    chunks = []
    for kind, texts in WORDING["follow_on"][work["name"]].items():
        written = rng.random(rows.height) < world.parameters.materials_written_out
        told = rows.filter(pl.Series(written | (kind != "consumable")))
        told = pick_one(told, texts, into="text", rng=rng)
        if kind == "labour":
            spread = np.exp(world.parameters.hours_sd_log * rng.standard_normal(told.height))
            hours = (work["labour_hours"] * pl.Series(spread)).round(1).clip(0.1)
            told = with_labour_price(told.with_columns(labour_hours=hours), world)
        else:
            cost = work["sublet_cost_net" if kind == "sublet" else "materials_cost_net"]
            told = told.with_columns(
                quantity=pl.lit(1.0),
                cost_net=(cost * pl.col("growth")).round(2),
                price_net=(cost * 1.35 * pl.col("growth")).round(2),
            )
        chunks.append(lines(told, rank=4, kind=kind))
    return pl.concat(chunks)


def mention_lines(
    visits: pl.DataFrame, items: pl.DataFrame, *, world: World, rng: np.random.Generator
) -> pl.DataFrame:
    """Lines that name components at a service and renew none: looked at, quoted for, not due."""
    return mention_texts(mentioned(visits, items, rng), world=world, rng=rng)


def mentioned(visits: pl.DataFrame, items: pl.DataFrame, rng: np.random.Generator) -> pl.DataFrame:
    """Three components at some services, one row each, and by what kind of line.

    Nothing is called sound in a job that has something else to say of the same component.
    """
    components = list(of_each_component("one"))
    served = visits.filter("service").select(*VISIT)
    order = rng.permuted(np.tile(np.arange(len(components)), (served.height, 1)), axis=1)[:, :3]
    what = rng.choice(
        ["", "sound", "sound_without_the_word", "three_sound", "nothing"],
        served.height,
        p=[0.63, 0.28, 0.02, 0.05, 0.02],
    )
    rows = served.with_columns(
        by=pl.Series(what),
        three=pl.Series(np.array(components)[order].tolist(), dtype=pl.List(pl.String)),
    ).filter(pl.col("by") != "")
    busy = items.select(*VISIT, "component").unique(maintain_order=True)
    rows = rows.with_row_index("row").explode("three").rename({"three": "component"})
    clash = rows.join(busy, on=[*VISIT, "component"], how="semi")["row"]
    return rows.filter(~pl.col("row").is_in(clash.unique().implode()))


def named_in_line(rows: pl.DataFrame) -> pl.DataFrame:
    """Of the three components drawn for each line those that it names: all, or the first."""
    number = pl.int_range(pl.len()).over("row")
    return rows.filter((pl.col("by") == "three_sound") | (number == 0))


def mention_texts(rows: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Write the mentions: one row for each of three components in, one line out."""
    action = pl.when(pl.col("by") == "nothing").then(pl.lit("none")).otherwise(pl.lit("sound"))
    rows = rows.with_columns(
        side=pl.lit("none"),
        grade_said=pl.lit(None, pl.String),
        positions=pl.lit([None], dtype=pl.List(pl.String)),
    )
    rows = named(rows, world=world, rng=rng).with_columns(labels=labels(action))
    rows = pick(rows, of_each_component("sound"), by="component", into="sound", rng=rng)
    told = (
        named_in_line(rows)
        .group_by("row", *VISIT, "by", maintain_order=True)
        .agg(
            pl.col("name", "sound").first(),
            pl.col("name").get(1, null_on_oob=True).alias("second"),
            pl.col("name").get(2, null_on_oob=True).alias("third"),
            pl.col("labels").explode(),
        )
    )
    told = pick(told, WORDING["mention"], by="by", into="template", rng=rng)
    told = told.with_columns(text=filled("template", ["name", "sound", "second", "third"]))
    return lines(told, rank=6, kind="other")
