"""One group against another in every way a reader asks: how much sooner, how often, how sure."""

from dataclasses import dataclass, replace

import polars as pl

from wornby.curves.accelerated import accelerated_life
from wornby.curves.contrasts import (
    both_curves,
    mean_life_difference,
    share_failed_difference,
)
from wornby.curves.episode_lives import counts_of
from wornby.curves.groups_by_vehicle import log_rank_by_vehicle
from wornby.curves.proportional_hazards import cox
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

FEWEST_FAILURES = 3
"""With fewer in either group, errors by vehicle are known to come out too small."""
FEWEST_LIVES = 5
FIRST = "first"


@dataclass(frozen=True, slots=True)
class Contrast:
    """How the lives of `first` compare with those of `base`.

    `factor` is how many times as long they last (Weibull), `ratio` how many times as often they
    fail at equal age (Cox), both with errors by vehicle. `p_value` is that of the log-rank test
    by vehicle (see `log_rank_by_vehicle`), however few have failed; `sooner` says which way.
    `steady_p_value` is that of the test whether the ratio is the same at all ages. `mean_gap` is
    the difference in mean life up to `until`, `share_gap` that in the share failed by then. What
    cannot be told is empty and its note says why; `reason` if nothing can be tested.
    """

    first: str
    base: str
    lives: float
    failures: float
    base_lives: float
    base_failures: float
    factor: Estimate
    ratio: Estimate
    p_value: float | None
    sooner: bool
    steady_p_value: float | None
    until: float
    mean_gap: Estimate
    share_gap: Estimate
    reason: str


def contrast(
    lives: pl.DataFrame,
    column: str,
    *,
    first: str,
    base: str,
    until: float,
    unit: str,
    confidence: float,
) -> Contrast:
    """Lives with one word in a column against those with another (see `episode_lives.lives_of`).

    `until` and the gap in mean life are in `unit`. What the records cannot tell is None with a
    note; EstimateError: failures within bounds.

    >>> ages = [3.0, 4.0, 5.0, 6.0, 7.0, 6.0, 8.0, 9.0, 10.0, 12.0]
    >>> lives = pl.DataFrame({"vehicle": list("abcdefghij"), "lower": ages}).with_columns(
    ...     version=pl.Series(["short"] * 5 + ["long"] * 5), entry=0.0, upper="lower", count=1.0
    ... )
    >>> found = contrast(
    ...     lives, "version", first="short", base="long", until=6.5, unit="years", confidence=0.9
    ... )
    >>> found.sooner, round(found.p_value, 3), round(found.factor.value, 2)
    (True, 0.009, 0.58)
    """
    groups = {
        word: counts_of(lives.filter(pl.col(column) == word), unit=unit, what=word, rule="")
        for word in (first, base)
    }
    reason = _too_few(groups)
    both = lives.filter(pl.col(column).is_in([first, base])).with_columns(
        (pl.col(column) == first).alias(FIRST)
    )
    nothing = Estimate(None, None, None, confidence, "times", reason)
    factor, ratio, steady = nothing, nothing, None
    if not reason:
        factor = _factor(both, confidence)
        ratio, steady = _ratio(both, confidence)
    p_value, sooner, why_not = _tested(both, groups)
    mean_gap, share_gap = _gaps(groups, until=until, confidence=confidence)
    return Contrast(
        first=first,
        base=base,
        lives=groups[first].n_lives,
        failures=groups[first].n_failures,
        base_lives=groups[base].n_lives,
        base_failures=groups[base].n_failures,
        factor=factor,
        ratio=ratio,
        p_value=p_value,
        sooner=sooner,
        steady_p_value=steady,
        until=until,
        mean_gap=mean_gap,
        share_gap=share_gap,
        reason=why_not,
    )


def _too_few(groups: dict[str, Counts]) -> str:
    """Why the two cannot be compared by a model, if they cannot."""
    least = min(groups, key=lambda word: groups[word].n_failures)
    failures = groups[least].n_failures
    if failures < FEWEST_FAILURES:
        return f"{failures:.0f} failed of {least}, wanted {FEWEST_FAILURES}"
    return ""


def _tested(both: pl.DataFrame, groups: dict[str, Counts]) -> tuple[float | None, bool, str]:
    """The p-value of no difference, whether the first fails sooner, or why there is no test."""
    fewest = min(counts.n_lives for counts in groups.values())
    if fewest < FEWEST_LIVES:
        return None, False, f"only {fewest:.0f} watched of one of them"
    if not sum(counts.n_failures for counts in groups.values()):
        return None, False, "no failure to compare by"
    try:
        tested = log_rank_by_vehicle(both, FIRST, unit=groups[next(iter(groups))].unit)
    except EstimateError:
        return None, False, "never watched at one age"
    return tested.p_value, tested.excess > 0, ""


def _factor(both: pl.DataFrame, confidence: float) -> Estimate:
    """How many times as long the first group lasts."""
    try:
        row = accelerated_life(both, [FIRST], confidence=confidence).table.row(0, named=True)
    except EstimateError as refused:
        return Estimate(None, None, None, confidence, "times", str(refused))
    return Estimate(row["factor"], row["lower"], row["upper"], confidence, "times")


def _ratio(both: pl.DataFrame, confidence: float) -> tuple[Estimate, float | None]:
    """Cox's ratio, and the p-value of the check that it is steady."""
    try:
        found = cox(both, [FIRST], confidence=confidence)
    except EstimateError as refused:
        return Estimate(None, None, None, confidence, "times", str(refused)), None
    row = found.table.row(0, named=True)
    ratio = Estimate(row["ratio"], row["lower"], row["upper"], confidence, "times")
    return ratio, found.proportional["p_value"][0]


def _gaps(
    groups: dict[str, Counts], *, until: float, confidence: float
) -> tuple[Estimate, Estimate]:
    """Differences in mean life and share failed up to an age both groups were watched at."""
    unit = next(iter(groups.values())).unit

    def refused(why: str) -> tuple[Estimate, Estimate]:
        gap = Estimate(None, None, None, confidence, unit, why)
        return gap, gap

    if min(counts.n_lives for counts in groups.values()) <= 0:
        return refused("none watched of one of them")
    if not sum(counts.n_failures for counts in groups.values()):
        return refused("none failed")
    curves = both_curves(groups, confidence=confidence)
    at_risk = min(float(curve.at_risk(until)[0]) for _, curve in curves)
    if at_risk < 1 or curves[0][1].begins_at >= until:
        return refused(f"nobody watched at {until:g} {unit} of one of them")
    intact = [word for word, curve in curves if curve.survival(until) == 1]
    if len(intact) == len(curves):
        return refused(f"none failed by {until:g} {unit}")
    note = f"none of {intact[0]} failed by then" if intact else ""
    mean_gap, _ = mean_life_difference(groups, until=until, confidence=confidence)
    share_gap, _ = share_failed_difference(groups, age=until, confidence=confidence)
    return replace(mean_gap, note=note), replace(share_gap, note=note)
