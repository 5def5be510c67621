"""How many renewed parts fail again soon after fitting, by grade and months."""

from collections.abc import Sequence

import polars as pl

from wornby.curves.episode_lives import counts_of, lives_of
from wornby.curves.nonparametric import SurvivalCurve, kaplan_meier
from wornby.histories.counts import YEARS

MONTHS_PER_YEAR = 12


def comebacks(
    episodes: pl.DataFrame, *, months: Sequence[float], confidence: float
) -> pl.DataFrame:
    """Share of renewed parts failed again by so many months: one row a grade and month.

    `episodes` are those of one component (see `tables.EPISODES`); a failure counts on the day it
    was found. Columns: grade, fitments, months, at_risk, failures, share, lower, upper; the share
    is one less Kaplan-Meier. Where none has failed by then the upper limit is the highest share
    that lets as many as were followed go without a failure: 1 - (1 - confidence)^(1 / at_risk).
    Where all have, there are no limits. EstimateError where a count of fitments cannot be.
    ValueError: a confidence that is none.

    >>> pumps = pl.DataFrame(
    ...     {
    ...         "vehicle": ["a", "b", "c", "d"],
    ...         "version": "short",
    ...         "origin": "renewed",
    ...         "grade": "genuine",
    ...         "ending": ["failure", "in service", "in service", "in service"],
    ...         "failed": [True, False, False, False],
    ...         "entry_days": 0,
    ...         "exit_days": [200, 400, 500, 800],
    ...         "weight": 1.0,
    ...     }
    ... )
    >>> found = comebacks(pumps, months=[6, 12], confidence=0.9)
    >>> found.select("months", "at_risk", "failures", pl.col("share", "upper").round(2)).rows()
    [(6.0, 4.0, 0.0, 0.0, 0.44), (12.0, 3.0, 1.0, 0.25, 0.78)]
    """
    renewed = episodes.filter(pl.col("origin") == "renewed")
    rows = []
    for (grade,), fitted in sorted(renewed.partition_by("grade", as_dict=True).items()):
        lives = lives_of(fitted, unit=YEARS)
        counts = counts_of(lives, unit="years", what=str(grade), rule="day found")
        if not counts.n_lives:
            continue
        curve = kaplan_meier(counts, confidence=confidence)
        for month in months:
            seen = _by(curve, month / MONTHS_PER_YEAR)
            rows.append(
                {"grade": grade, "fitments": counts.n_lives, "months": float(month), **seen}
            )
    return pl.DataFrame(rows, schema=COLUMNS)


def _by(curve: SurvivalCurve, age: float) -> dict[str, float | None]:
    """How many had failed by an age, of how many followed, and the share with its limits."""
    seen, at_risk = curve.table.filter(pl.col("age") <= age), float(curve.at_risk(age)[0])
    told: dict[str, float | None] = {
        "at_risk": at_risk,
        "failures": float(seen["failures"].sum()),
        "share": float(1 - curve.survival(age)),
    }
    if not seen.height:
        most = 1 - (1 - curve.confidence) ** (1 / max(at_risk, 1.0))
        return told | {"lower": 0.0, "upper": most if at_risk > 0 else 1.0}
    low, high = seen.select("lower", "upper").row(-1)
    return told | {
        "lower": None if high is None else 1 - high,
        "upper": None if low is None else 1 - low,
    }


COLUMNS = {
    "grade": pl.String,
    "fitments": pl.Float64,
    "months": pl.Float64,
    "at_risk": pl.Float64,
    "failures": pl.Float64,
    "share": pl.Float64,
    "lower": pl.Float64,
    "upper": pl.Float64,
}
