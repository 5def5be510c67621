"""One vehicle: what its parts may cost to the horizon, and which work to do, in which order."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wornby.decisions.costs import AccessGroup, failure_cost, opening_cost, renewal_cost
from wornby.decisions.later_policy import past_a_threshold
from wornby.decisions.open_job import Bools, Neighbour, OpenJob
from wornby.decisions.openings import horizon_costs
from wornby.decisions.paths import Paths
from wornby.decisions.vehicle_parts import VehiclePart

Floats = NDArray[np.float64]

FEWEST_PATHS = 100
SURE_ERRORS = 2.0
"""Work is advised for money only where it saves more than two standard errors of the paths."""


@dataclass(frozen=True, eq=False, slots=True)
class GroupPlan:
    """One access group: what to renew now, and what the next time it is open.

    `must` are degraded safety parts: they are in `renew_now` whatever the money says.
    `while_open` pays once somebody opens the group for another reason. `leave_cost` is what
    each path pays to the horizon when nothing is renewed before it fails, `advised_cost` when
    `renew_now` is, with the opening; `probability_right` the share of curves under which the
    advice costs no more than the other. `paid_now` is the bill for `renew_now`: access, follow-on
    work, hours and parts, 0 where the group is left shut.
    """

    group: AccessGroup
    components: tuple[str, ...]
    must: tuple[str, ...]
    renew_now: tuple[str, ...]
    while_open: tuple[str, ...]
    leave_cost: Floats
    advised_cost: Floats
    probability_right: float
    paid_now: float

    @property
    def saving(self) -> float:
        """What the advised work saves in the mean; below 0 where safety asks for it."""
        return float((self.leave_cost - self.advised_cost).mean())


@dataclass(frozen=True, eq=False, slots=True)
class VehicleSheet:
    """All parts of one vehicle; `chances` has a row a path and a column a part.

    `if_failed` is what each part's failure costs by itself: access, repair and consequence.
    `plans` come in order of work: safety first, then what saves most, then what is left.
    """

    parts: tuple[VehiclePart, ...]
    horizon_years: float
    chances: Floats
    if_failed: Floats
    plans: tuple[GroupPlan, ...]

    @property
    def leave_cost(self) -> Floats:
        """What each path pays when everything is left until it fails."""
        return np.asarray(np.sum([plan.leave_cost for plan in self.plans], axis=0))

    @property
    def advised_cost(self) -> Floats:
        """What each path pays when the advised work is done now."""
        return np.asarray(np.sum([plan.advised_cost for plan in self.plans], axis=0))


def vehicle_sheet(
    parts: Sequence[VehiclePart],
    *,
    horizon_years: float,
    labour_price_per_hour: float,
    rng: np.random.Generator,
) -> VehicleSheet:
    """Price a vehicle's parts to the horizon, each access paid once for all it serves.

    Every path has a curve, an age and a luck for each part. At later openings the failed part
    is renewed, and each neighbour that pays by then (`later_policy.past_a_threshold`).

    >>> from wornby.curves.uncertainty import WeibullDraws
    >>> from wornby.decisions.costs import PartCosts
    >>> from wornby.decisions.vehicle_parts import DEGRADED
    >>> life = WeibullDraws(np.full(500, 5.0), np.full(500, 19.0), "years")
    >>> pipe = VehiclePart(
    ...     PartCosts("brake pipe", 1.2, 64.0, failure_consequence_net=0.0, safety=True),
    ...     AccessGroup("front subframe down", access_hours=4.0, follow_on_cost_net=55.0),
    ...     age_years=np.full(500, 14.0), life=life, renewed_life=life,
    ...     condition=DEGRADED, delay_years=None, detection=0.5,
    ... )
    >>> sheet = vehicle_sheet([pipe], horizon_years=3.0, labour_price_per_hour=72.0,
    ...                       rng=np.random.default_rng(1))
    >>> sheet.plans[0].renew_now, sheet.plans[0].saving < 0
    (('brake pipe',), True)
    """
    if not parts or len({part.age_years.size for part in parts}) > 1:
        raise ValueError("vehicle: wanted one part or more, all on the same paths")
    if parts[0].age_years.size < FEWEST_PATHS:
        raise ValueError(f"vehicle: {parts[0].age_years.size} paths, wanted {FEWEST_PATHS} or more")
    groups: dict[str, list[VehiclePart]] = {}
    for part in parts:
        groups.setdefault(part.group.name, []).append(part)
    plans = [
        _plan(ours, horizon_years=horizon_years, price=labour_price_per_hour, rng=rng)
        for ours in groups.values()
    ]
    ordered = sorted(
        plans,
        key=lambda p: (not p.must, not p.renew_now, -p.saving, -float(p.leave_cost.mean())),
    )
    return VehicleSheet(
        parts=tuple(parts),
        horizon_years=horizon_years,
        chances=np.column_stack([part.chance_within(horizon_years) for part in parts]),
        if_failed=np.array(
            [
                failure_cost(p.costs, p.group, labour_price_per_hour=labour_price_per_hour)
                for p in parts
            ]
        ),
        plans=tuple(ordered),
    )


def _plan(
    parts: list[VehiclePart], *, horizon_years: float, price: float, rng: np.random.Generator
) -> GroupPlan:
    """Leave the group shut, or open it for the bundle that costs least."""
    job = _job(parts, horizon_years=horizon_years, price=price)
    policy = past_a_threshold(job)
    must = np.array([part.must_go for part in parts])
    pays = job.ages >= policy.thresholds[:, 0, -1]
    rows = _rows(must, pays)
    ages = np.column_stack([part.from_here().age_years for part in parts])
    cost, _ = horizon_costs(
        job,
        _paths(parts, rng),
        policy,
        bundles=rows,
        ages=np.broadcast_to(ages, (len(rows), *ages.shape)),
    )
    best = 1 + int(cost[1:].mean(axis=1).argmin())
    opening = opening_cost(parts[0].group, labour_price_per_hour=price)
    opened = cost[best] + opening
    now = bool(must.any()) or _saves(cost[0] - opened)
    names = tuple(str(n) for n in np.array(job.components)[rows[best]])
    more = opened - cost[0]
    surely = _share_below_zero(more if now else -more, parts, horizon_years)
    return GroupPlan(
        group=parts[0].group,
        components=job.components,
        must=tuple(part.name for part in parts if part.must_go),
        renew_now=names if now else (),
        while_open=names if not now and _saves(cost[0] - cost[best]) else (),
        leave_cost=cost[0],
        advised_cost=opened if now else cost[0],
        probability_right=surely,
        paid_now=opening + _renewing(parts, names, price) if now else 0.0,
    )


def _renewing(parts: list[VehiclePart], names: tuple[str, ...], price: float) -> float:
    """What renewing the named parts costs once the group is open."""
    return sum(
        renewal_cost(part.costs, labour_price_per_hour=price)
        for part in parts
        if part.name in names
    )


def _job(parts: list[VehiclePart], *, horizon_years: float, price: float) -> OpenJob:
    neighbours = []
    for part in parts:
        here = part.from_here()
        age = float(np.median(here.age_years))
        neighbours.append(Neighbour(part.costs, age, here.life, part.renewed_life))
    return OpenJob(
        group=parts[0].group,
        neighbours=tuple(neighbours),
        failed=None,
        degraded=frozenset(),
        horizon_years=horizon_years,
        labour_price_per_hour=price,
    )


def _rows(must: Bools, pays: Bools) -> Bools:
    """Nothing; what pays; that with one more or one less; one alone: always with what must go."""
    one = np.eye(must.size, dtype=np.bool_)
    tried = np.vstack([pays, pays ^ one, one]) | must
    kept = np.unique(tried[tried.any(axis=1)], axis=0)
    return np.vstack([np.zeros(must.size, dtype=np.bool_), kept])


def _paths(parts: list[VehiclePart], rng: np.random.Generator) -> Paths:
    n = parts[0].age_years.size
    shape, scale, wear, variance = np.empty((4, n, len(parts), 2))
    unknown = np.full(n, np.nan)
    for c, part in enumerate(parts):
        here = part.from_here()
        shape[:, c, 0], scale[:, c, 0] = here.life.shape, here.life.scale
        wear[:, c, 0], variance[:, c, 0] = here.wear, here.wear_variance
        wear[:, c, 1], variance[:, c, 1] = part.wears
        pick = rng.integers(part.renewed_life.shape.size, size=n)
        shape[:, c, 1], scale[:, c, 1] = (
            part.renewed_life.shape[pick],
            part.renewed_life.scale[pick],
        )
    luck = np.column_stack([part.luck(rng) if part.told_sound else unknown for part in parts])
    seed = int(rng.integers(2**62))
    if not variance.any():
        return Paths(shape, scale, seed, first_luck=luck)
    return Paths(shape, scale, seed, wear=wear, wear_variance=variance, first_luck=luck)


def _saves(saved: Floats) -> bool:
    error = float(saved.std(ddof=1)) / math.sqrt(saved.size)
    return float(saved.mean()) > SURE_ERRORS * error


def _share_below_zero(more: Floats, parts: list[VehiclePart], years: float) -> float:
    """Share of paths whose curves make the mean of `more` negative.

    The mean under one path's curves is a regression of `more` on each part's chance of failing
    (Strong, Oakley & Brennan 2014), since one path by itself is mostly luck.
    """
    chance = np.column_stack([part.chance_within(years) for part in parts])
    seen = np.column_stack([np.ones(more.size), chance, chance**2])
    fitted = seen @ np.linalg.lstsq(seen, more)[0]
    return float((fitted <= 0).mean())
