"""What decisions taken from records cost beyond the best ones, where the truth is known.

Run as a script it writes regret.csv beside itself. In simulated workshops of the invented world
(see `lived_on`) the advice is taken from the records of 100, 300 and 1,000 vehicles and priced
under the true lives:

- renew while open: 36 situations (see `open_jobs`); each workshop answers a sixth of them, six
  workshops all. `value` is the mean cost beyond the oracle's as a share of the oracle's mean
  cost, without the opening and the failed part, which are paid anyway. The rules of thumb are
  priced on the same paths, and so need no records.
- chance of being best: what the advice told of its own bundle, and how often it was the best.
- renewal age: cost a year beyond that of the best age, as a share of it, over all components.
- fixed price (see `priced_years`): the share of years that lose, and the share that was told.
- failures to come (see `failures_to_come`): the share of counts within the 90 % interval. The
  first 24 of the 80 workshops of 1,000 vehicles answer everything; by themselves they held 85.4 %
  (standard error 1.4), which is why 56 more were asked, of new random streams.

Every value is a ratio of sums; `std_err` is its Monte-Carlo standard error over `n` workshops, or
over the paths of `n` situations for the rules of thumb. `least` and `most` are the bar, where
there is one.
"""

import os
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter
from typing import Any

import numpy as np
import polars as pl
from studies.failures_to_come import CELLS, Judged, of_one_weibull, of_the_world
from studies.lived_on import LivedOn, lived_on
from studies.open_jobs import Situation, TruePrices, situations, true_life, true_prices
from studies.priced_years import OWN_AIM, PAST, aims, year_losses

from wornby.decisions.costs import failure_cost, planned_cost
from wornby.decisions.long_run import best_weibull_ages, weibull_cost_rate, weibull_mean_life
from wornby.decisions.renewal_age import age_replacement
from wornby.decisions.stated_costs import access_costs, money_of, part_costs
from wornby.errors import EstimateError
from wornby.reports.decision_trials import NO_RECORDS
from wornby.reports.ramp import while_open_advice
from wornby.reports.renewal_answers import leaves_it
from wornby.reports.trial_answers import TRIALS
from wornby.reports.workshop import RENEWAL_GRADE, Workshop, life_in_years, pace_of

Row = dict[str, Any]

ADVICE_PATHS, IN_A_BLOCK = 2_000, 6
"""A report's advice rests on ten times as many futures, and so errs a little less."""
AS_ADVISED, RUN_TO_FAILURE, AT_TEN = "as advised", "run to failure", "at 10 years"
WHILE_OPEN, SURENESS = "renew while open", "chance of being best"
RENEWAL_AGE, FIXED_PRICE, TO_COME = "renewal age", "fixed price", "failures to come"
EVERYWHERE, WORLD, WEIBULLS = "all", "the world, all", "one Weibull, all shapes"
MOST_EXCESS, CLOSE, NOMINAL, BAR_AT = 0.03, 0.03, 0.90, "300 vehicles"


@dataclass(frozen=True, eq=False, slots=True)
class Size:
    """How much of the study is run: workshops of each number of vehicles, and of the others."""

    workshops: dict[int, int]
    per_group: int
    true_paths: int
    price_workshops: int
    forecast_workshops: int
    more_forecasts: int


FULL = Size({100: 24, 300: 30, 1000: 24}, 9, 20_000, 500, 80, 56)
"""Of the largest workshops so many more are asked for forecasts alone, to tell 87 from 90 %."""


@dataclass(frozen=True, eq=False, slots=True)
class Asked:
    """One workshop to simulate: its place in the study, what it is asked, its random stream."""

    vehicles: int
    number: int
    prices: list[tuple[Situation, TruePrices]]
    stream: np.random.SeedSequence

    @property
    def ours(self) -> list[tuple[Situation, TruePrices]]:
        """The situations that this workshop answers."""
        return self.prices[self.number % IN_A_BLOCK :: IN_A_BLOCK]


def answers(asked: Asked) -> list[Row]:
    """One workshop's decisions and forecasts, each judged by the truth."""
    lived = lived_on(asked.vehicles, np.random.default_rng(asked.stream))
    told = [
        *open_rows(lived.workshop, asked.ours),
        *age_rows(lived.workshop),
        *forecast_rows(lived),
    ]
    where = {"records": f"{asked.vehicles} vehicles", "unit": asked.number}
    return [where | row for row in told]


def open_rows(workshop: Workshop, asked: Iterable[tuple[Situation, TruePrices]]) -> Iterator[Row]:
    """What the advised bundle costs beyond the oracle's, and whether it was the best."""
    for situation, prices in asked:
        try:
            advice = while_open_advice(
                workshop,
                situation.group,
                situation.ramp,
                failed=situation.failed,
                n_paths=ADVICE_PATHS,
            ).advice
            bundle, told = advice.best, advice.probability_best
        except (EstimateError, ValueError):
            bundle, told = (), 0.0
        cost = prices.cost_of(bundle)
        yield row(WHILE_OPEN, situation.group, AS_ADVISED, cost - prices.oracle, prices.oracle)
        yield row(SURENESS, EVERYWHERE, "told", told, 1.0)
        yield row(SURENESS, EVERYWHERE, "was", float(cost == prices.oracle), 1.0)


def age_rows(workshop: Workshop) -> Iterator[Row]:
    """What renewing each component at the advised age costs a year beyond the best age."""
    catalogue, pace = workshop.catalogue, pace_of(workshop)
    rate = money_of(catalogue).labour_price_per_hour
    for component in catalogue.components.values():
        part = part_costs(catalogue, component.name, grade=RENEWAL_GRADE)
        group = access_costs(catalogue, component.access_group or "")
        planned, failure = (
            cost(part, group, labour_price_per_hour=rate) for cost in (planned_cost, failure_cost)
        )
        life, _ = life_in_years(
            workshop, component, origin="renewed", grade=RENEWAL_GRADE, pace=pace
        )
        told = age_replacement(
            life.thinned(400), planned_cost=planned, failure_cost=failure, confidence=0.9
        )
        truth = true_life(component, pace)
        best = float(best_weibull_ages(truth, cost_ratio=failure / planned)[0])
        advised = np.inf if leaves_it(told) else told.advice.age_years
        run, least, ours, ten = (
            cost_a_year(truth, age, planned=planned, failure=failure)
            for age in (np.inf, best, advised, 10.0)
        )
        for what, cost in ((AS_ADVISED, ours), (RUN_TO_FAILURE, run), (AT_TEN, ten)):
            yield row(RENEWAL_AGE, EVERYWHERE, what, cost - least, least)


def cost_a_year(truth: Any, age: float, *, planned: float, failure: float) -> float:
    """Cost a year of renewing at an age under one true curve; infinite: run to failure."""
    if np.isinf(age):
        return float(failure / weibull_mean_life(truth)[0])
    return float(weibull_cost_rate(truth, age, planned=planned, failure=failure)[0, 0])


def forecast_rows(lived: LivedOn) -> Iterator[Row]:
    """Each component's forecast against the year after the close, by how many are expected."""
    for one in of_the_world(lived):
        many = one["expected"]
        size = "fewer than 2" if many < 2 else "2 to 10" if many < 10 else "10 or more"
        yield from of_judged(f"the world, {size} expected", one)


def more_forecasts(vehicles: int, stream: np.random.SeedSequence, number: int) -> list[Row]:
    """One workshop's forecasts, where nothing else is asked of it."""
    where = {"records": f"{vehicles} vehicles", "unit": number}
    return [where | row for row in forecast_rows(lived_on(vehicles, np.random.default_rng(stream)))]


def of_judged(where: str, one: Row) -> Iterator[Row]:
    """A row for each measure of a forecast."""
    for what in Judged.__slots__:
        yield row(TO_COME, where, what, float(one[what]), 1.0)


def row(question: str, where: str, what: str, top: float, bottom: float) -> Row:
    """What one ratio is summed from."""
    return {"question": question, "where": where, "what": what, "top": top, "bottom": bottom}


def price_rows(cell: tuple[int, bool], stream: np.random.SeedSequence, number: int) -> list[Row]:
    """One workshop's years at the advised prices."""
    (n_past, others), told = cell, []
    for one in year_losses(n_past, np.random.default_rng(stream), others=others):
        told += [
            row(FIXED_PRICE, str(one["aim"]), what, one[what], 1.0) for what in ("lost", "told")
        ]
    records = f"{n_past} past jobs" if others else f"{n_past} past jobs, none of another kind"
    return [{"records": records, "unit": number} | one for one in told]


def weibull_rows(cell: tuple[float, int], stream: np.random.SeedSequence, number: int) -> list[Row]:
    """One forecast in a workshop of one known Weibull."""
    shape, vehicles = cell
    one = of_one_weibull(shape, vehicles, np.random.default_rng(stream))
    told = of_judged(f"one Weibull of shape {shape:g}", {n: getattr(one, n) for n in one.__slots__})
    return [{"records": f"{vehicles} vehicles", "unit": number} | one for one in told]


def ratios(found: pl.DataFrame) -> pl.DataFrame:
    """Each ratio of sums with its standard error over independent units, groups and all."""
    keys = ["question", "records", "where", "what"]
    overall = found.filter(pl.col("question") == WHILE_OPEN).with_columns(where=pl.lit(EVERYWHERE))
    world, weibulls = (
        found.filter(pl.col("where").str.starts_with(one)).with_columns(where=pl.lit(all_of_it))
        for one, all_of_it in (("the world", WORLD), ("one Weibull", WEIBULLS))
    )
    units = (
        pl.concat([overall, found, world, weibulls])
        .group_by([*keys, "unit"], maintain_order=True)
        .agg(pl.col("top", "bottom").sum())
    )
    value = pl.col("top").sum() / pl.col("bottom").sum()
    left = pl.col("top") - value * pl.col("bottom")
    return units.group_by(keys, maintain_order=True).agg(
        value=value,
        std_err=left.std() / (pl.col("bottom").mean() * pl.len().sqrt()),
        n=pl.len(),
    )


def rules_of_thumb(prices: Sequence[tuple[Situation, TruePrices]]) -> pl.DataFrame:
    """What rules that need no records cost beyond the oracle, group by group and in all."""
    groups = sorted({situation.group for situation, _ in prices})
    rows = []
    for where in (EVERYWHERE, *groups):
        ours = [p for s, p in prices if where in (EVERYWHERE, s.group)]
        least = sum(p.oracle for p in ours)
        for rule in ours[0].rules:
            beyond = sum(p.rules[rule] - p.oracle for p in ours)
            error = np.sqrt(sum(p.paired[rule] ** 2 for p in ours))
            rows.append(
                (WHILE_OPEN, NO_RECORDS, where, rule, beyond / least, error / least, len(ours))
            )
    schema = ["question", "records", "where", "what", "value", "std_err", "n"]
    return pl.DataFrame(rows, schema=schema, orient="row")


def with_bars(table: pl.DataFrame) -> pl.DataFrame:
    """The table with the least and the most that each value may be, empty where none is set."""
    wanted = {name: risk for name, risk, *_ in aims()}
    risk = pl.col("where").replace_strict(wanted, default=None, return_dtype=pl.Float64)
    lost = (pl.col("question") == FIXED_PRICE) & (pl.col("what") == "lost")
    held = (pl.col("question") == TO_COME) & (pl.col("what") == "randomised")
    open_at_300 = (
        (pl.col("question") == WHILE_OPEN)
        & (pl.col("records") == BAR_AT)
        & (pl.col("where") == EVERYWHERE)
    )
    own = pl.col("where") == OWN_AIM
    return table.with_columns(
        least=pl.when(held)
        .then(NOMINAL - CLOSE)
        .when(lost & ~own)
        .then((risk - CLOSE).clip(lower_bound=0.0)),
        most=pl.when(held)
        .then(NOMINAL + CLOSE)
        .when(lost)
        .then(risk + CLOSE)
        .when(open_at_300)
        .then(MOST_EXCESS),
    )


def trial(table: pl.DataFrame) -> pl.DataFrame:
    """The rows that the analyst's report tells."""
    where, what = pl.col("where"), pl.col("what")
    told = (
        (pl.col("question").is_in([WHILE_OPEN, RENEWAL_AGE]) & (where == EVERYWHERE))
        | ((pl.col("question") == FIXED_PRICE) & (what == "lost"))
        | (where.is_in([WORLD, WEIBULLS]) & (what == "randomised"))
    )
    rule = (pl.col("question") == RENEWAL_AGE) & (what != AS_ADVISED)
    once = ~rule | (pl.col("records") == BAR_AT)
    records = pl.when(rule).then(pl.lit(NO_RECORDS)).otherwise("records")
    shown = table.filter(told & once).with_columns(pl.col("value", "std_err").round(4))
    return shown.with_columns(records=records)


def priced(
    asked: Situation, stream: np.random.SeedSequence, *, n_paths: int
) -> tuple[Situation, TruePrices]:
    """A situation with what each bundle costs under the truth."""
    return asked, true_prices(asked, n_paths=n_paths, rng=np.random.default_rng(stream))


def study(size: Size, *, seed: int, run: Callable[..., Iterable[Any]]) -> pl.DataFrame:
    """The whole table; `run` maps a function over its arguments, as `map` does.

    Each workshop has a random stream of its own, so that the order of work does not matter.
    """
    first, *streams = np.random.SeedSequence(seed).spawn(5)
    cases = situations(size.per_group, np.random.default_rng(first))
    prices = list(run(partial(priced, n_paths=size.true_paths), cases, first.spawn(len(cases))))
    sizes = zip(size.workshops.items(), streams[0].spawn(len(size.workshops)), strict=True)
    asked = [
        Asked(vehicles, k, prices, own)
        for (vehicles, n), stream in sizes
        for k, own in enumerate(stream.spawn(n))
    ]
    largest, n_largest = max(size.workshops.items())
    more = streams[3].spawn(size.more_forecasts)
    numbers = range(n_largest, n_largest + size.more_forecasts)
    parts = [
        *run(answers, asked),
        *run(more_forecasts, [largest] * size.more_forecasts, more, numbers),
        *run(price_rows, *each(PAST, size.price_workshops, streams[1])),
        *run(weibull_rows, *each(CELLS, size.forecast_workshops, streams[2])),
    ]
    found = pl.DataFrame([one for part in parts for one in part])
    return with_bars(pl.concat([rules_of_thumb(prices), ratios(found)], how="vertical_relaxed"))


def each(
    cases: Sequence[Any], n: int, stream: np.random.SeedSequence
) -> tuple[list[Any], list[np.random.SeedSequence], list[int]]:
    """Every case n times, a stream for each, and its number, to be mapped over together."""
    own = [one.spawn(n) for one in stream.spawn(len(cases))]
    asked = [(case, own[i][k], k) for k in range(n) for i, case in enumerate(cases)]
    return [case for case, _, _ in asked], [one for _, one, _ in asked], [k for _, _, k in asked]


if __name__ == "__main__":
    began = perf_counter()
    # spawned, not forked: polars' threads do not survive a fork
    with ProcessPoolExecutor(os.cpu_count() or 1, mp_context=get_context("spawn")) as pool:
        table = study(FULL, seed=22, run=partial(pool.map, chunksize=1))
    table.write_csv(Path(__file__).parent / "regret.csv", float_precision=4)
    trial(table).write_csv(Path(str(TRIALS)) / "decision.csv")
    sys.stdout.write(f"{table.height} rows in {perf_counter() - began:.0f} s\n")
