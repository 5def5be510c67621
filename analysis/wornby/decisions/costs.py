"""What renewing a part costs, planned, while something else is open, or after it has failed."""

import math
from dataclasses import dataclass


def check_amounts(where: str, **amounts: float) -> None:
    """Name the first amount that no bill can have."""
    for name, amount in amounts.items():
        if not math.isfinite(amount) or amount < 0:
            raise ValueError(f"{where}: {name} is {amount}, wanted a finite amount from 0 up")


@dataclass(frozen=True, slots=True)
class PartCosts:
    """What one component takes to renew once it can be reached, and what its failure adds.

    `failure_consequence_net` is what a failure on the road is expected to cost beyond the
    renewal: recovery, collateral damage. `safety` says that brakes, steering or fuel hang on it.
    """

    component: str
    own_hours: float
    part_price_net: float
    failure_consequence_net: float
    safety: bool

    def __post_init__(self) -> None:
        """Refuse what no part can cost."""
        check_amounts(
            self.component,
            own_hours=self.own_hours,
            part_price_net=self.part_price_net,
            failure_consequence_net=self.failure_consequence_net,
        )


@dataclass(frozen=True, slots=True)
class AccessGroup:
    """The strip-down by which several components are reached, and what it always entails."""

    name: str
    access_hours: float
    follow_on_cost_net: float

    def __post_init__(self) -> None:
        """Refuse what no strip-down can cost."""
        check_amounts(
            self.name,
            access_hours=self.access_hours,
            follow_on_cost_net=self.follow_on_cost_net,
        )


def opening_cost(group: AccessGroup, *, labour_price_per_hour: float) -> float:
    """What it costs to get there and close up again, nothing renewed.

    >>> gearbox_out = AccessGroup("gearbox out", access_hours=6.0, follow_on_cost_net=40.0)
    >>> opening_cost(gearbox_out, labour_price_per_hour=70.0)
    460.0
    """
    check_amounts(group.name, labour_price_per_hour=labour_price_per_hour)
    return group.access_hours * labour_price_per_hour + group.follow_on_cost_net


def renewal_cost(part: PartCosts, *, labour_price_per_hour: float) -> float:
    """What renewing the part costs once the job is open: its own hours and its price."""
    check_amounts(part.component, labour_price_per_hour=labour_price_per_hour)
    return part.own_hours * labour_price_per_hour + part.part_price_net


def planned_cost(part: PartCosts, group: AccessGroup, *, labour_price_per_hour: float) -> float:
    """What renewing the part alone costs by appointment, while it still works."""
    return opening_cost(group, labour_price_per_hour=labour_price_per_hour) + renewal_cost(
        part, labour_price_per_hour=labour_price_per_hour
    )


def failure_cost(part: PartCosts, group: AccessGroup, *, labour_price_per_hour: float) -> float:
    """What renewing the part alone costs after it failed on the road."""
    planned = planned_cost(part, group, labour_price_per_hour=labour_price_per_hour)
    return planned + part.failure_consequence_net
