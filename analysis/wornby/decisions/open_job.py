"""A job that has an access group open: what is within reach, and the owner's horizon."""

import math
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs import AccessGroup, PartCosts, failure_cost, renewal_cost
from wornby.decisions.long_run import check_draws

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

MOST_IN_BUNDLES = 6


@dataclass(frozen=True, eq=False, slots=True)
class Neighbour:
    """A component within reach: its costs, its age now, and how it and its successor live."""

    costs: PartCosts
    age_years: float
    life: WeibullDraws
    renewed_life: WeibullDraws

    def __post_init__(self) -> None:
        """Refuse an age or a curve that no part can have."""
        if not math.isfinite(self.age_years) or self.age_years < 0:
            raise ValueError(
                f"{self.component}: age_years is {self.age_years}, wanted a finite age from 0 up"
            )
        check_draws(self.life, f"{self.component}, part in place")
        check_draws(self.renewed_life, f"{self.component}, renewed part")

    @property
    def component(self) -> str:
        """The component's name."""
        return self.costs.component


@dataclass(frozen=True, eq=False, slots=True)
class OpenJob:
    """The question at the ramp: the group is open, what else to renew?

    `failed` has just failed and is renewed anyway (None: open for another reason). `degraded`
    parts still work but were found cracked, corroded or noisy. Costs run from the open job to the
    horizon; the opening itself and the failed part's renewal are paid anyway and not counted.
    """

    group: AccessGroup
    neighbours: tuple[Neighbour, ...]
    failed: str | None
    degraded: frozenset[str]
    horizon_years: float
    labour_price_per_hour: float

    def __post_init__(self) -> None:
        """Refuse a job that names what is not there."""
        names = self.components
        if not names or len(set(names)) < len(names):
            raise ValueError(
                f"{self.group.name}: components {', '.join(names)}, wanted one or more, each once"
            )
        named = self.degraded | ({self.failed} if self.failed is not None else set())
        if unknown := sorted(named - set(names)):
            raise ValueError(
                f"{self.group.name}: {', '.join(unknown)} named failed or degraded, "
                f"wanted one of {', '.join(names)}"
            )
        if not math.isfinite(self.horizon_years) or self.horizon_years <= 0:
            raise ValueError(
                f"{self.group.name}: horizon_years is {self.horizon_years}, wanted above 0"
            )

    @property
    def components(self) -> tuple[str, ...]:
        """Names in the order of the neighbours."""
        return tuple(n.component for n in self.neighbours)

    @property
    def ages(self) -> Floats:
        """Age of each part now."""
        return np.array([n.age_years for n in self.neighbours])

    @property
    def renewal_costs(self) -> Floats:
        """What renewing each costs while the group is open."""
        rate = self.labour_price_per_hour
        return np.array(
            [renewal_cost(n.costs, labour_price_per_hour=rate) for n in self.neighbours]
        )

    @property
    def failure_costs(self) -> Floats:
        """What each later failure costs: access again, the renewal, and the consequence."""
        rate = self.labour_price_per_hour
        return np.array(
            [failure_cost(n.costs, self.group, labour_price_per_hour=rate) for n in self.neighbours]
        )


def bundles(job: OpenJob) -> Bools:
    """Every choice of neighbours to renew now, nothing more first: a row a bundle.

    The failed component is in none: it is renewed anyway, and counts as new in all of them.
    """
    if len(job.components) > MOST_IN_BUNDLES:
        raise ValueError(
            f"{job.group.name}: components {', '.join(job.components)}, wanted at most "
            f"{MOST_IN_BUNDLES} for every bundle to be priced"
        )
    choices = [(False,) if name == job.failed else (False, True) for name in job.components]
    return np.array(list(product(*choices)), dtype=np.bool_)


def allowed(job: OpenJob, bundles: Bools) -> Bools:
    """Which bundles leave no degraded safety part behind."""
    must = [n.costs.safety and n.component in job.degraded for n in job.neighbours]
    left = ~bundles & np.array(must) & (np.array(job.components) != job.failed)
    return np.asarray(~left.any(axis=1))
