"""How far the B10 life lies from the truth under each observation rule, in eight worlds.

Run as a script it writes truth.csv beside itself: so many simulated workshops of 300 vans in
each of the worlds of `worlds.WORLDS`, original parts, each component on its own scale. `error`
is the mean relative error of the Weibull fit's B10 life, with its Monte-Carlo standard error;
`held` the share of 90 % profile intervals that hold the true B10 life; `fitted` the share of
workshops whose lives could be fitted. The last rule is the naivest answer, the average age at
failure: its error is against the true mean life, which it is taken for, and it has no interval.
"""

import os
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from itertools import product
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter

import numpy as np
import polars as pl
from studies.worlds import WORLDS, Hostility
from told_records import told_records

from wornby.curves.parametric import weibull
from wornby.curves.profile import b_life
from wornby.demo.places import World, merrow_world
from wornby.demo.truth import lives_from_new
from wornby.demo.visits import workshop_book
from wornby.errors import EstimateError
from wornby.histories.counts import Counts, count_episodes
from wornby.histories.fitments import Histories, histories
from wornby.histories.observation import RULES
from wornby.histories.watching import episodes
from wornby.reports.trial_answers import TRIALS

SHARE, CONFIDENCE = 0.1, 0.9
COMPONENTS = ("clutch slave cylinder", "heater matrix", "gear linkage bush", "belt tensioner")
"""Without a degraded state, so that the truth is one, and with a B10 life at an age at which vans
are watched in every world; the last is counted in miles, and cheap enough for any owner."""
NEW_VANS, CHUNK = 400_000, 25_000
AVERAGE, AVERAGED_UNDER = "average age at failure", "naive: from new to the last visit"


@dataclass(frozen=True, slots=True)
class Truth:
    """The B10 life and the mean life of a component's original parts, in years or miles."""

    b10: float
    mean: float


@dataclass(frozen=True, slots=True)
class Workshop:
    """One workshop to simulate: its world, what is true in it, and its stream of numbers."""

    world: Hostility
    n_vehicles: int
    truths: dict[str, Truth]
    stream: np.random.SeedSequence


@cache
def world_named(name: str, n_vehicles: int) -> World:
    """The world with its places, made once in each process."""
    (hostility,) = [world for world in WORLDS if world.name == name]
    return merrow_world(hostility.parameters(n_vehicles))


def truths(hostility: Hostility, rng: np.random.Generator, *, n: int) -> dict[str, Truth]:
    """Each component's truth from the lives of n new vans: to about 0.2 % with 400,000."""
    world = world_named(hostility.name, 1)
    places = [world.places.of(name) for name in COMPONENTS]
    chunks = np.diff(np.arange(0, n + CHUNK, CHUNK).clip(max=n))
    drawn = (lives_from_new(world, chunk, rng)[:, places] for chunk in chunks.tolist())
    lives = np.concatenate(list(drawn)).T
    return {
        name: Truth(float(np.quantile(life, SHARE)), float(life.mean()))
        for name, life in zip(COMPONENTS, lives, strict=True)
    }


def answers(workshop: Workshop) -> list[dict[str, object]]:
    """Every rule's answer for every component of one simulated workshop."""
    world = world_named(workshop.world.name, workshop.n_vehicles)
    rng = np.random.default_rng(workshop.stream)
    book = workshop_book(world, rng)
    made = histories(told_records(book, world=world, rng=rng))
    return [{"world": workshop.world.name, **row} for row in rows(made, world, workshop.truths)]


def rows(made: Histories, world: World, known: dict[str, Truth]) -> Iterator[dict[str, object]]:
    """Rule, component, failures, error and whether the interval held, of one workshop."""
    for rule, observed in RULES.items():
        table = episodes(made, observed).table.filter(origin="original")
        for name, truth in known.items():
            unit = "miles" if world.places.by_distance[world.places.of(name)] else "years"
            lives = table.filter(component=name)
            counts = count_episodes(lives, unit=unit, what=name, rule=rule)
            yield {"rule": rule, "component": name, **judged(counts, truth.b10)}
            if rule == AVERAGED_UNDER:
                yield {"rule": AVERAGE, "component": name, **averaged(counts, truth.mean)}


def judged(counts: Counts, truth: float) -> dict[str, object]:
    """The B10 life of the Weibull fit against the truth; empty where there is no fit."""
    try:
        life = b_life(weibull(counts), SHARE, confidence=CONFIDENCE)
    except EstimateError:
        return {"failures": counts.n_failures, "error": None, "held": None}
    assert life.value is not None
    assert life.lower is not None
    assert life.upper is not None
    held = life.lower <= truth <= life.upper
    return {"failures": counts.n_failures, "error": life.value / truth - 1, "held": held}


def averaged(counts: Counts, truth: float) -> dict[str, object]:
    """The average age of those that failed against the mean life."""
    failed = counts.table.filter(pl.col("upper").is_finite())
    error = None
    if failed.height:
        error = float(np.average(failed["upper"], weights=failed["count"])) / truth - 1
    return {"failures": counts.n_failures, "error": error, "held": None}


def summary(found: pl.DataFrame) -> pl.DataFrame:
    """One row for each world, rule and component, in the order in which they are listed."""
    order = pl.DataFrame(
        list(product((w.name for w in WORLDS), (*RULES, AVERAGE), COMPONENTS)),
        schema=["world", "rule", "component"],
        orient="row",
    )
    meets = {world.name: world.meets_assumptions for world in WORLDS}
    told = found.group_by("world", "rule", "component").agg(
        workshops=pl.len(),
        failures=pl.col("failures").mean(),
        fitted=pl.col("error").is_not_null().mean(),
        error=pl.col("error").mean(),
        std_err=pl.col("error").std() / pl.col("error").count().sqrt(),
        held=pl.col("held").mean(),
    )
    listed = order.join(told, on=order.columns, how="inner", maintain_order="left")
    met = pl.col("world").replace_strict(meets, return_dtype=pl.Boolean)
    return listed.select("world", met.alias("meets_assumptions"), pl.exclude("world"))


def trial(table: pl.DataFrame) -> pl.DataFrame:
    """The table without its components, as the analyst's report tells it."""
    keys = ["world", "meets_assumptions", "rule"]
    told = table.group_by(keys, maintain_order=True).agg(
        pl.col("workshops").first(), pl.col("error", "held").mean()
    )
    return told.with_columns(pl.col("error", "held").round(4))


def workshops(
    worlds: tuple[Hostility, ...], *, n: int, n_vehicles: int, new_vans: int, seed: int
) -> list[Workshop]:
    """n workshops in each world, each with random numbers of its own, whatever the order of work.

    The truth of a world has its own stream too.
    """
    streams = np.random.SeedSequence(seed).spawn(len(worlds))
    asked = []
    for world, stream in zip(worlds, streams, strict=True):
        first, *others = stream.spawn(n + 1)
        known = truths(world, np.random.default_rng(first), n=new_vans)
        asked += [Workshop(world, n_vehicles, known, other) for other in others]
    return asked


def study(asked: list[Workshop], *, processes: int) -> pl.DataFrame:
    """The table of all workshops."""
    # spawned, not forked: polars' threads do not survive a fork
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        found = [row for part in pool.map(answers, asked, chunksize=5) for row in part]
    return summary(pl.DataFrame(found, infer_schema_length=None))


if __name__ == "__main__":
    per_world = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    vehicles = int(sys.argv[2]) if len(sys.argv) > 2 else 300
    began = perf_counter()
    asked = workshops(WORLDS, n=per_world, n_vehicles=vehicles, new_vans=NEW_VANS, seed=21)
    table = study(asked, processes=os.cpu_count() or 1)
    table.write_csv(Path(__file__).parent / "truth.csv", float_precision=4)
    trial(table).write_csv(Path(str(TRIALS)) / "truth.csv")
    sys.stdout.write(f"{table.height} rows in {perf_counter() - began:.0f} s\n")
