"""Part grades: how many of each failed soon after fitting, and which differ from the others."""

from dataclasses import dataclass, replace

import polars as pl

from wornby.curves.groups import log_rank
from wornby.curves.nonparametric import kaplan_meier
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import YEARS, Counts, count_episodes
from wornby.histories.watching import Episodes

FEWEST_LIVES = 5
"""A grade with fewer fitments is not compared."""


@dataclass(frozen=True, slots=True)
class GradeLife:
    """Renewed parts of one grade beside those of all other grades of the component.

    `years` and `others_years` are years of service watched, `early` the share failed by
    `early_months` after fitting. `p_value` is that of the log-rank test against the others; None
    where nothing can be compared, for `reason`.
    """

    component: str
    grade: str
    fitments: float
    failures: float
    years: float
    others_failures: float
    others_years: float
    early_months: int
    early: Estimate
    p_value: float | None
    reason: str


def grade_lives(
    made: Episodes, component: str, *, early_months: int, confidence: float
) -> list[GradeLife]:
    """Each grade of a component's renewed parts, most fitments first, by age since fitting.

    Shares carry the limits of Kaplan-Meier. EstimateError: failures within bounds.

    >>> from wornby.histories.observation import WORKSHOP
    >>> from wornby.ledger import Ledger
    >>> table = pl.DataFrame({"exit_days": [200, 300, 400, 500, 600] + [1400] * 5}).with_columns(
    ...     component=pl.lit("pump"),
    ...     origin=pl.lit("renewed"),
    ...     grade=pl.Series(["used"] * 5 + ["genuine"] * 5),
    ...     entry_days=pl.lit(0),
    ...     sound_days="exit_days",
    ...     failed=pl.col("exit_days") < 450,
    ...     weight=pl.lit(1.0),
    ... )
    >>> made = Episodes(table, WORKSHOP, Ledger("fitments", 10, 10))
    >>> used = grade_lives(made, "pump", early_months=12, confidence=0.9)[0]
    >>> used.grade, used.failures, round(used.early.value, 2), round(used.p_value, 3)
    ('used', 3.0, 0.4, 0.049)
    """
    renewed = made.table.filter(
        (pl.col("component") == component)
        & (pl.col("origin") == "renewed")
        & (pl.col("grade") != "unknown")
    )
    groups = {
        str(grade): count_episodes(
            lives, unit=YEARS, what=f"{component}, {grade}", rule=made.rule.sentence()
        )
        for (grade,), lives in renewed.partition_by("grade", as_dict=True).items()
    }
    enough = {g: c for g, c in groups.items() if c.n_lives >= FEWEST_LIVES}
    told = [
        _against_others(component, grade, enough, early_months=early_months, confidence=confidence)
        for grade in enough
    ]
    return sorted(told, key=lambda life: -life.fitments)


def _against_others(
    component: str,
    grade: str,
    groups: dict[str, Counts],
    *,
    early_months: int,
    confidence: float,
) -> GradeLife:
    ours = groups[grade]
    rest = [counts.table for name, counts in groups.items() if name != grade]
    others = replace(ours, table=pl.concat([*rest, ours.table.clear()]), what="the others")
    p_value, reason = _tested(ours, others)
    return GradeLife(
        component=component,
        grade=grade,
        fitments=ours.n_lives,
        failures=ours.n_failures,
        years=_service(ours),
        others_failures=others.n_failures,
        others_years=_service(others),
        early_months=early_months,
        early=_failed_by(ours, early_months / 12, confidence),
        p_value=p_value,
        reason=reason,
    )


def _tested(ours: Counts, others: Counts) -> tuple[float | None, str]:
    if not others.n_lives:
        return None, "no other grade to compare with"
    try:
        return log_rank({"this grade": ours, "the others": others}).p_value, ""
    except EstimateError:
        return None, "no failure to compare by"


def _service(counts: Counts) -> float:
    """Years of service that were watched."""
    entry, lower, _, count = counts.columns()
    return float(((lower - entry) * count).sum())


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
