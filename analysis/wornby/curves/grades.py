"""Part grades side by side: how many of each failed soon after fitting, and do they differ."""

from dataclasses import dataclass

import polars as pl

from wornby.curves.groups import LogRank, log_rank
from wornby.curves.nonparametric import kaplan_meier
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import DAYS_PER_YEAR, Counts, count_episodes
from wornby.histories.episodes import Episodes

FEWEST_LIVES = 5
"""A grade with fewer fitments is not compared."""


@dataclass(frozen=True, eq=False, slots=True)
class GradeComparison:
    """Renewed parts of one component by grade.

    `table` has grade, fitments, failures, fitment_years, failures_per_100_years and early, the
    share failed by `early_months` with its limits; `test` is None where there is nothing to
    compare, for `reason`.
    """

    component: str
    early_months: int
    table: pl.DataFrame
    early: dict[str, Estimate]
    test: LogRank | None
    reason: str


def grade_comparison(
    made: Episodes, component: str, *, early_months: int, confidence: float
) -> GradeComparison:
    """Compare the grades of renewed parts, from the day of fitting, by age since then."""
    renewed = made.table.filter(
        (pl.col("component") == component)
        & (pl.col("origin") == "renewed")
        & (pl.col("grade") != "unknown")
    )
    groups = {
        str(grade): count_episodes(
            lives, scale="age", what=f"{component}, {grade}", rule=made.rule.sentence()
        )
        for (grade,), lives in renewed.partition_by("grade", as_dict=True).items()
        if lives.height >= FEWEST_LIVES
    }
    ordered = dict(sorted(groups.items(), key=lambda item: -item[1].n_lives))
    test, reason = _tested(ordered)
    years = renewed.group_by("grade").agg(
        fitment_years=(pl.col("exit_days") - pl.col("entry_days")).sum() / DAYS_PER_YEAR
    )
    rows = [(grade, int(c.n_lives), int(c.n_failures)) for grade, c in ordered.items()]
    table = pl.DataFrame(
        rows,
        schema={"grade": pl.String, "fitments": pl.Int64, "failures": pl.Int64},
        orient="row",
    ).join(years, on="grade", how="left", maintain_order="left")
    rate = 100 * pl.col("failures") / pl.col("fitment_years")
    return GradeComparison(
        component=component,
        early_months=early_months,
        table=table.with_columns(failures_per_100_years=rate),
        early={g: _failed_by(c, early_months / 12, confidence) for g, c in ordered.items()},
        test=test,
        reason=reason,
    )


def _tested(groups: dict[str, Counts]) -> tuple[LogRank | None, str]:
    if len(groups) < 2:
        return None, f"fewer than two grades with {FEWEST_LIVES} fitments or more"
    try:
        return log_rank(groups), ""
    except EstimateError as error:
        return None, str(error)


def _failed_by(counts: Counts, age_years: float, confidence: float) -> Estimate:
    """One minus Kaplan-Meier at the age, with its log-log limits."""
    curve = kaplan_meier(counts, confidence=confidence)
    reached = curve.table.filter(pl.col("age") <= age_years)
    longest = float(counts.table["lower"].max())  # type: ignore[arg-type]  # never empty here
    note = "" if longest >= age_years else f"none was watched beyond {longest:.1f} years"
    if not reached.height:
        exposed = float(curve.at_risk([min(age_years, longest)])[0])
        upper = 1 - (1 - confidence) ** (1 / max(exposed, 1.0))
        return Estimate(0.0, 0.0, upper, confidence, "share", note)
    last = reached.row(-1, named=True)
    lower = 0.0 if last["upper"] is None else 1 - last["upper"]
    upper = 1.0 if last["lower"] is None else 1 - last["lower"]
    return Estimate(1 - last["survival"], lower, upper, confidence, "share", note)
