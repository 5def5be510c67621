"""Versions of a vehicle: does a component live alike in all, and how long in each?"""

from dataclasses import dataclass
from typing import Any

import polars as pl

from wornby.curves.episode_lives import counts_of
from wornby.curves.groups import log_rank
from wornby.curves.pooling import pooled_groups
from wornby.curves.reach import outside_failures
from wornby.curves.shape_prior import ShapePrior
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

UNKNOWN = "unknown"
SHARE = 0.10


@dataclass(frozen=True, slots=True)
class VersionLife:
    """One component in one version, beside the other versions.

    `expected` is how many would have failed if all versions failed alike; `own` the B10 life of
    the version alone, with `own_note` where its own lives do not reach so far; `pooled` drawn
    towards the others by `pull`, from 0 to 1, its note on the reach of all versions' lives.
    `p_value` is the log-rank test's of all versions of the component; None for `reason`.
    """

    component: str
    version: str
    unit: str
    lives: float
    failures: float
    expected: float | None
    own: float | None
    own_note: str
    pooled: Estimate
    pull: float | None
    p_value: float | None
    reason: str


def version_lives(
    lives: pl.DataFrame, component: str, *, unit: str, confidence: float, prior: ShapePrior
) -> list[VersionLife]:
    """A component's lives (see `episode_lives.lives_of`) by version, in order of name.

    Lives are in `unit`. Where nothing can be compared the row says why; ValueError: a confidence
    that is none.

    >>> from wornby.curves.shape_prior import CAR_COMPONENT
    >>> ages = [5.0, 7.0, 8.0, 9.0, 9.0, 12.0]
    >>> lives = pl.DataFrame({"vehicle": list("abcdef"), "entry": 0.0, "lower": ages}).with_columns(
    ...     upper="lower", count=1.0, version=pl.Series(["short"] * 4 + ["long"] * 2)
    ... )
    >>> told = version_lives(lives, "pump", unit="years", confidence=0.9, prior=CAR_COMPONENT)
    >>> [(life.version, round(life.own, 1), round(life.pooled.value, 1)) for life in told]
    [('long', 7.9, 6.0), ('short', 5.6, 5.1)]
    """
    groups = {
        str(version): counts_of(own, unit=unit, what=f"{component}, {version}", rule="day found")
        for (version,), own in sorted(lives.partition_by("version", as_dict=True).items())
        if version != UNKNOWN
    }
    if len(groups) < 2:
        reason = "one version only" if groups else "none watched"
        return [_untold(component, name, groups, reason, confidence) for name in groups or ["none"]]
    try:
        tested = log_rank(groups)
        pooled = pooled_groups(groups, share=SHARE, confidence=confidence, prior=prior)
    except EstimateError as refused:
        return [_untold(component, name, groups, str(refused), confidence) for name in groups]
    known = lives.filter(pl.col("version") != UNKNOWN)
    every = counts_of(known, unit=unit, what=component, rule="day found")
    rows = zip(tested.table.to_dicts(), pooled.table.to_dicts(), strict=True)
    return [
        VersionLife(
            component=component,
            version=alone["group"],
            unit=unit,
            lives=alone["lives"],
            failures=alone["failures"],
            expected=alone["expected"],
            own=drawn["own"],
            own_note=outside_failures(groups[alone["group"]], drawn["own"]) if drawn["own"] else "",
            pooled=_pooled(drawn, every, confidence),
            pull=drawn["pull"],
            p_value=tested.p_value,
            reason="",
        )
        for alone, drawn in rows
    ]


def _pooled(drawn: dict[str, Any], every: Counts, confidence: float) -> Estimate:
    note = outside_failures(every, drawn["pooled"])
    limits = drawn["pooled"], drawn["lower"], drawn["upper"]
    return Estimate(*limits, confidence, every.unit, note)


def _untold(
    component: str, name: str, groups: dict[str, Counts], reason: str, confidence: float
) -> VersionLife:
    counts = groups.get(name)
    return VersionLife(
        component=component,
        version=name,
        unit=counts.unit if counts else "",
        lives=counts.n_lives if counts else 0.0,
        failures=counts.n_failures if counts else 0.0,
        expected=None,
        own=None,
        own_note="",
        pooled=Estimate(None, None, None, confidence, "", reason),
        pull=None,
        p_value=None,
        reason=reason,
    )
