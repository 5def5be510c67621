"""What has become of a component's parts by an age: failed, degraded, renewed early, or none."""

from dataclasses import dataclass

import polars as pl

from wornby.curves.competing import Incidence, cumulative_incidence
from wornby.curves.episode_lives import counts_of
from wornby.curves.nonparametric import SurvivalCurve, kaplan_meier
from wornby.curves.uncertainty import Estimate

ENDINGS = {
    "failure": "failed",
    "degraded finding": "found degraded",
    "preventive renewal": "renewed early",
    "renewal unexplained": "renewed, no reason told",
}
"""The ends that compete; a part in service, or lost from sight, has come to none."""


@dataclass(frozen=True, slots=True)
class EndingShares:
    """Share of parts that has come to each end by `age`, of those that reached `begins_at`.

    `shares` has an estimate for each of `ENDINGS`, by Aalen & Johansen; `alone` is one less
    Kaplan-Meier of failures, the other ends taken as withdrawn. `at_risk` is how many were
    still watched at that age. Where nothing can be told all are empty, for `reason`.
    """

    age: float
    unit: str
    begins_at: float
    at_risk: float
    shares: dict[str, Estimate]
    alone: Estimate
    reason: str


def ending_shares(
    lives: pl.DataFrame, *, age: float, unit: str, what: str, confidence: float
) -> EndingShares:
    """The shares by an age of the lives of one component (see `episode_lives.lives_of`).

    Both curves begin after a collapse of the early risk set, if there is one: see `at_risk`.
    EstimateError: a life that cannot be. Where nobody was watched so far the shares are empty, for
    `reason`.

    >>> ends = ["failure", "preventive renewal", "failure", "in service", "in service"]
    >>> lives = pl.DataFrame({"vehicle": list("abcde"), "ending": ends}).with_columns(
    ...     entry=pl.lit(0.0), lower=pl.Series([3.0, 4.0, 6.0, 9.0, 9.0]), count=pl.lit(1.0)
    ... )
    >>> found = ending_shares(lives, age=8.0, unit="years", what="pump", confidence=0.9)
    >>> round(found.shares["failed"].value, 2), round(found.alone.value, 2)
    (0.4, 0.47)
    """
    named = lives.with_columns(ending=pl.col("ending").replace_strict(ENDINGS, default=None))
    every, failures = (
        _curve(named, ended, unit=unit, what=what, confidence=confidence)
        for ended in (pl.col("ending").is_not_null(), pl.col("ending") == "failed")
    )
    begins_at, at_risk = every.begins_at, float(every.at_risk(age)[0])
    reason = f"nobody watched at {age:g} {unit}" if at_risk <= 0 else ""
    if begins_at >= age:
        reason = f"too few watched before {begins_at:g} {unit}"
    if reason:
        empty = Estimate(None, None, None, confidence, "share", reason)
        shares = dict.fromkeys(ENDINGS.values(), empty)
        return EndingShares(age, unit, begins_at, at_risk, shares, empty, reason)
    later = named.filter(pl.col("lower") > begins_at).select(
        "vehicle", "ending", "count", entry=pl.col("entry").clip(begins_at), exit="lower"
    )
    any_ended = later["ending"].is_not_null().any()
    found = cumulative_incidence(later, confidence=confidence) if any_ended else None
    shares = {
        name: _bounded(_share(found, name, age, confidence), at_risk) for name in ENDINGS.values()
    }
    alone = (
        failures
        if failures.begins_at == begins_at
        else kaplan_meier(failures.counts, confidence=confidence, begins_at=begins_at)
    )
    told = _bounded(one_less(alone, age), at_risk)
    return EndingShares(age, unit, begins_at, at_risk, shares, told, "")


def one_less(curve: SurvivalCurve, age: float) -> Estimate:
    """One minus Kaplan-Meier at an age, with the curve's own limits."""
    steps = curve.table.filter(pl.col("age") <= age)
    if not steps.height:
        return Estimate(0.0, 0.0, None, curve.confidence, "share", "none seen by then")
    survival, lower, upper = steps.select("survival", "lower", "upper").row(-1)
    low, high = (None if one is None else 1 - one for one in (upper, lower))
    return Estimate(1 - survival, low, high, curve.confidence, "share")


def _curve(
    named: pl.DataFrame, ended: pl.Expr, *, unit: str, what: str, confidence: float
) -> SurvivalCurve:
    """Kaplan-Meier with these ends as failures and all others as withdrawn."""
    upper = pl.when(ended).then("lower").otherwise(float("inf"))
    counts = counts_of(named.with_columns(upper=upper), unit=unit, what=what, rule="day found")
    return kaplan_meier(counts, confidence=confidence)


def _share(found: Incidence | None, name: str, age: float, confidence: float) -> Estimate:
    if found is None:
        return Estimate(0.0, 0.0, None, confidence, "share", "none seen by then")
    return found.estimate(name, age)


def _bounded(share: Estimate, at_risk: float) -> Estimate:
    """Where none was seen, the most that as many watched to the end allow: 1 - tail^(1/n)."""
    if share.upper is not None or share.value != 0:
        return share
    upper = 1 - (1 - share.confidence) ** (1 / max(at_risk, 1.0))
    return Estimate(None, 0.0, upper, share.confidence, share.unit, share.note)
