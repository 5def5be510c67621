"""Answers on the method itself: how it did where the truth was known.

The tables come from the studies in tests/studies, which simulate records of known lives; each
study puts a summary of its own beside this module.
"""

from collections.abc import Sequence
from importlib.resources import files

import polars as pl

from wornby.histories.observation import NAIVE
from wornby.reports.amounts import PER_CENT
from wornby.reports.answer import Answer

TRIALS = files("wornby.reports") / "trials"
SHOWN_RULES = ("workshop", "failed since the routine visit before", *NAIVE)
AVERAGE = "average age at failure"
NOMINAL, CLOSE = 0.9, 0.03


def rule_trial_answer() -> Answer:
    """How far B10 lives were off in simulated workshops, world by world and rule by rule."""
    frame = trial_table("truth.csv")
    shown = [*SHOWN_RULES, AVERAGE]
    people = []
    for (world,), rows in frame.partition_by("world", as_dict=True, maintain_order=True).items():
        by_rule = {row["rule"]: row for row in rows.to_dicts()}
        assumed = "as assumed" if by_rule[shown[0]]["meets_assumptions"] else "not as assumed"
        people.append(
            {"world": f"{world} ({assumed})"} | {rule: _off(by_rule[rule]) for rule in shown}
        )
    n = frame["workshops"][0]
    return Answer(
        "The rules tried out where the truth is known",
        pl.DataFrame(people),
        frame.filter(pl.col("rule").is_in(shown)),
        (
            f"{n} simulated workshops of 300 vehicles in each world, four components: mean error "
            f"of the B10 life, and in brackets the share of 90{PER_CENT} intervals that held it. "
            "The average age at failure is taken for the mean life and has no interval.",
            "A world is as assumed where a failure brings the vehicle in within days, who stays "
            "away does so whatever fails, what is renewed early is chosen by age or distance, and "
            "lives are Weibull and alike in all vehicles.",
        ),
    )


def interval_trial_answer() -> Answer:
    """How often intervals held the truth in simulated records, by failures and shape."""
    frame = trial_table("coverage.csv")
    people = [
        {
            "failures expected": f"{row['failures']:.0f}",
            "true shape": f"{row['shape']:.1f}",
            "could be fitted": _share(row["fitted"]),
            "profile held": _range(row, "held"),
            "posterior held": _range(row, "held_posterior"),
            "as reported held": _range(row, "held_given"),
        }
        for row in frame.to_dicts()
    ]
    outside = frame.filter(
        (pl.col("failures") >= 20)
        & ((pl.col("held_least") < NOMINAL - CLOSE) | (pl.col("held_most") > NOMINAL + CLOSE))
    )
    return Answer(
        f"How often 90{PER_CENT} intervals held the truth",
        pl.DataFrame(people),
        frame,
        (
            f"B10 life and chance within 12 months, {frame['data_sets'].sum():,} simulated sets of "
            "30 to 1,000 lives, with and without late entry and looks: the average over the "
            "kinds of record, with the least and the most.",
            "Profile intervals are judged where there is a fit; reports give them from five "
            "failures on, and the posterior's where there are fewer or none.",
            _within(outside),
        ),
    )


def trial_table(name: str) -> pl.DataFrame:
    """The summary that a study put beside this module."""
    with (TRIALS / name).open("rb") as table:
        return pl.read_csv(table)


def _within(outside: pl.DataFrame) -> str:
    if outside.is_empty():
        return f"With 20 failures or more every kind of record held in 87 to 93{PER_CENT}."
    worst = outside["held_least"].min()
    return (
        f"With 20 failures or more profile intervals held in 87 to 93{PER_CENT} but for "
        f"{_listed(outside)}; the least was {100 * float(worst):.1f}{PER_CENT}."  # type: ignore[arg-type]  # not empty
    )


def _listed(outside: pl.DataFrame) -> str:
    rows: Sequence[tuple[float, float]] = outside.select("failures", "shape").rows()
    return ", ".join(f"{failures:.0f} failures at shape {shape:g}" for failures, shape in rows)


def _off(row: dict[str, float | None]) -> str:
    error, held = row["error"], row["held"]
    told = f"{100 * (error or 0.0):+.0f}{PER_CENT}"
    return told if held is None else f"{told} ({_share(held)})"


def _share(value: float) -> str:
    return f"{100 * value:.0f}{PER_CENT}"


def _range(row: dict[str, float], name: str) -> str:
    mean, least, most = (row[f"{name}{part}"] for part in ("", "_least", "_most"))
    return f"{_share(mean)} ({100 * least:.0f} to {_share(most)})"
