"""How often a club's weighted answers hold the truth, and what happens where trouble answers more.

Run as a module from tests/ it simulates clubs of known lives, reads their answers as any survey,
and writes survey.csv beside itself. `held` is the share of 90 % intervals of the share failed by
10 years, or 80,000 miles, that held the truth. Where answering hangs on trouble it says the same
of the sensitivity band, from those without trouble as ready as others to `READIEST` times less
ready, each with its interval; and `held_plain` of the percentage that clubs print, of all who
answered how many had the part renewed, with its usual interval.
"""

import os
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

import numpy as np
import polars as pl
from scipy.stats import beta
from studies.clubs import (
    BY,
    MEMBERS,
    SURVEYED_IN,
    TROUBLE_ANSWERS,
    club,
    true_share,
    write_club,
)

from wornby.curves.uncertainty import Estimate
from wornby.reports.trial_answers import TRIALS
from wornby.survey.answers import Survey, read_survey
from wornby.survey.design_intervals import turnbull_share, weighted_lives, weighted_weibull
from wornby.survey.lives import survey_lives
from wornby.survey.nonresponse import readiness
from wornby.survey.replicates import replicate_weights
from wornby.survey.survey_rules import CLUB
from wornby.survey.weighted import weighted_survey

CONFIDENCE, REPLICATES, READIEST = 0.9, 100, 5.0
WORLDS = {
    "answering hangs on model year and version alone": 1.0,
    "owners with trouble three times as ready": TROUBLE_ANSWERS,
}
METHODS = ("plain percentage", "Weibull", "Turnbull", "sensitivity band", "no assumption")


def answers(stream: np.random.SeedSequence, *, trouble: float) -> list[dict[str, object]]:
    """One club's answers by every method: component, method, value, lower, upper, truths."""
    rng = np.random.default_rng(stream)
    members = club(rng)
    with TemporaryDirectory() as folder:
        write_club(Path(folder), members, rng, trouble=trouble)
        survey = read_survey(Path(folder))
    return [
        {
            "component": component,
            "method": method,
            "value": found.value,
            "lower": found.lower,
            "upper": found.upper,
            "answers": survey.answers.height,
            "truth": true_share(component),
            "renewed": float(members.renewed(component).mean()),
        }
        for component, method, found in _estimates(survey, rng, independent=trouble == 1.0)
    ]


def _estimates(
    survey: Survey, rng: np.random.Generator, *, independent: bool
) -> Iterator[tuple[str, str, Estimate]]:
    """Each component's share by each method; Turnbull, which is slow, where intervals are tried."""
    weighted = weighted_survey(survey, calendar_year=SURVEYED_IN)
    lives = survey_lives(survey, rule=CLUB, weights=weighted.answers)
    weights = replicate_weights(weighted, rng=rng, n=REPLICATES)
    for told in lives.told.to_dicts():
        component = told["component"]
        by = BY[component]
        of = weighted_lives(lives, component, weighted=weighted, weights=weights)
        yield component, METHODS[0], plain_percentage(told["renewed"], told["answers"])
        yield component, METHODS[1], weighted_weibull(of).share_failed(by, confidence=CONFIDENCE)
        if independent:
            yield component, METHODS[2], turnbull_share(of, by, confidence=CONFIDENCE)
        moved = readiness(
            lives,
            component,
            weighted=weighted,
            by=by,
            asked=MEMBERS,
            conclusion=None,
            confidence=CONFIDENCE,
            rng=rng,
            n=REPLICATES,
        )
        band = moved.table.filter(pl.col("times_less_ready").is_between(1.0, READIEST))
        lower, upper = band["lower"].to_numpy().min(), band["upper"].to_numpy().max()
        yield component, METHODS[3], _range(float(lower), float(upper))
        assert moved.bounds is not None
        yield component, METHODS[4], _range(moved.bounds.least, moved.bounds.most)


def plain_percentage(renewed: int, answered: int) -> Estimate:
    """Of all who answered how many had it renewed, with Clopper & Pearson's limits (1934)."""
    tail = (1 - CONFIDENCE) / 2
    lower = float(beta.ppf(tail, renewed, answered - renewed + 1))
    upper = float(beta.ppf(1 - tail, renewed + 1, answered - renewed))
    return Estimate(renewed / answered, lower, upper, CONFIDENCE, "chance")


def _range(lower: float, upper: float) -> Estimate:
    return Estimate((lower + upper) / 2, lower, upper, CONFIDENCE, "chance")


def summary(found: pl.DataFrame) -> pl.DataFrame:
    """One row for each world, component and method.

    `held_renewed`, of the plain percentage, is how often it held the share of all members' vans
    that had the part renewed by the answer, which is what its readers take it for.
    """
    keys = ["world", "component", "method"]
    order = {method: at for at, method in enumerate(METHODS)}
    plain = pl.col("method") == METHODS[0]
    held = pl.col("truth").is_between(pl.col("lower"), pl.col("upper"))
    renewed = pl.when(plain).then(pl.col("renewed").is_between(pl.col("lower"), pl.col("upper")))
    told = found.group_by(keys, maintain_order=True).agg(
        clubs=pl.len(),
        answers=pl.col("answers").mean(),
        truth=pl.col("truth").mean(),
        value=pl.col("value").mean(),
        width=(pl.col("upper") - pl.col("lower")).mean(),
        held=held.mean(),
        renewed=pl.col("renewed").mean(),
        held_renewed=renewed.mean(),
    )
    place = pl.col("method").replace_strict(order, return_dtype=pl.Int64)
    return told.sort(pl.col("world").rank("dense"), "component", place, maintain_order=True)


def clubs(world: str, streams: list[np.random.SeedSequence], *, processes: int) -> pl.DataFrame:
    """Every method's answer for each of the clubs of one world."""
    one = partial(answers, trouble=WORLDS[world])
    if processes == 1:
        parts = [one(stream) for stream in streams]
    else:
        # spawned, not forked: polars' threads do not survive a fork
        with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
            parts = list(pool.map(one, streams, chunksize=5))
    rows = [row for part in parts for row in part]
    return pl.DataFrame(rows, infer_schema_length=None).with_columns(world=pl.lit(world))


def study(n: int, *, seed: int, processes: int) -> pl.DataFrame:
    """The table of n clubs in each world, each club with random numbers of its own."""
    streams = np.random.SeedSequence(seed).spawn(len(WORLDS))
    return summary(
        pl.concat(
            clubs(world, stream.spawn(n), processes=processes)
            for world, stream in zip(WORLDS, streams, strict=True)
        )
    )


if __name__ == "__main__":
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    began = perf_counter()
    table = study(n, seed=25, processes=os.cpu_count() or 1)
    table.write_csv(Path(__file__).parent / "survey.csv", float_precision=4)
    table.write_csv(Path(str(TRIALS)) / "survey.csv", float_precision=4)
    sys.stdout.write(f"{table.height} rows in {perf_counter() - began:.0f} s\n")
