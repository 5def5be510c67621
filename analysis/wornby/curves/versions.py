"""Versions of a vehicle: does a component live alike in all, and how long in each?"""

from dataclasses import dataclass

import polars as pl

from wornby.curves.episode_lives import counts_of
from wornby.curves.groups import log_rank
from wornby.curves.pooling import pooled_groups
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
    the version alone, `pooled` drawn towards the others by `pull`, from 0 to 1. `p_value` is the
    log-rank test's of all versions of the component; None for `reason`.
    """

    component: str
    version: str
    unit: str
    lives: float
    failures: float
    expected: float | None
    own: float | None
    pooled: Estimate
    pull: float | None
    p_value: float | None
    reason: str


def version_lives(
    lives: pl.DataFrame, component: str, *, unit: str, confidence: float, prior: ShapePrior
) -> list[VersionLife]:
    """A component's lives (see `episode_lives.lives_of`) by version, in order of name."""
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
            pooled=Estimate(drawn["pooled"], drawn["lower"], drawn["upper"], confidence, unit),
            pull=drawn["pull"],
            p_value=tested.p_value,
            reason="",
        )
        for alone, drawn in rows
    ]


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
        pooled=Estimate(None, None, None, confidence, "", reason),
        pull=None,
        p_value=None,
        reason=reason,
    )
