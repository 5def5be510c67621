"""How many renewed parts fail again soon after fitting, by grade and months."""

from collections.abc import Sequence

import polars as pl

from wornby.curves.nonparametric import kaplan_meier
from wornby.histories.counts import count_episodes

MONTHS_PER_YEAR = 12


def comebacks(
    episodes: pl.DataFrame, *, months: Sequence[float], confidence: float
) -> pl.DataFrame:
    """Share of renewed parts failed again by so many months: one row a grade and month.

    `episodes` are those of one component (see `tables.EPISODES`). Columns: grade, fitments,
    months, at_risk, failures, share, lower, upper; the share is one less Kaplan-Meier, its limits
    empty before the first failure.
    """
    renewed = episodes.filter(pl.col("origin") == "renewed")
    rows = []
    for (grade,), fitted in sorted(renewed.partition_by("grade", as_dict=True).items()):
        counts = count_episodes(fitted, scale="age", what=str(grade), rule="as watched")
        if not counts.n_lives:
            continue
        curve = kaplan_meier(counts, confidence=confidence)
        for month in months:
            age = month / MONTHS_PER_YEAR
            seen = curve.table.filter(pl.col("age") <= age)
            last = seen.row(-1, named=True) if seen.height else None
            rows.append(
                {
                    "grade": grade,
                    "fitments": counts.n_lives,
                    "months": float(month),
                    "at_risk": float(curve.at_risk(age)[0]),
                    "failures": float(seen["failures"].sum()),
                    "share": float(1 - curve.survival(age)),
                    "lower": None if last is None or last["upper"] is None else 1 - last["upper"],
                    "upper": None if last is None or last["lower"] is None else 1 - last["lower"],
                }
            )
    return pl.DataFrame(rows, schema=COLUMNS)


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
