"""A job that has an access group open: what is within reach, and the owner's horizon."""

import math
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs import AccessGroup, PartCosts, failure_cost, renewal_cost
from wornby.decisions.long_run import check_draws

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

MOST_IN_BUNDLES = 6
MOST_NEIGHBOURS = 12


@dataclass(frozen=True, eq=False, slots=True)
class Neighbour:
    """A component within reach: its costs, its age now, and how it and its successor live.

    `delay_years` has draws of the mean time from when a defect shows to the failure, and
    `detection` the chance that the look at the open job sees one; None and 0 where not known.
    """

    costs: PartCosts
    age_years: float
    life: WeibullDraws
    renewed_life: WeibullDraws
    delay_years: Floats | None = None
    detection: float = 0.0

    def __post_init__(self) -> None:
        """Refuse an age or a curve that no part can have."""
        if not 0 <= self.detection <= 1:
            raise ValueError(f"{self.component}: detection is {self.detection}, wanted 0 to 1")
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
    parts still work but were found cracked, corroded or noisy; `sound` ones were looked at and
    nothing was seen. Costs run from the open job to the horizon; the opening itself and the failed
    part's renewal are paid anyway and not counted. What is paid t years from now counts for
    1 / (1 + discount_rate_per_year) ** t of it.
    """

    group: AccessGroup
    neighbours: tuple[Neighbour, ...]
    failed: str | None
    degraded: frozenset[str]
    horizon_years: float
    labour_price_per_hour: float
    sound: frozenset[str] = frozenset()
    discount_rate_per_year: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a job that names what is not there."""
        names = self.components
        if not names or len(set(names)) < len(names):
            raise ValueError(
                f"{self.group.name}: components {', '.join(names)}, wanted one or more, each once"
            )
        failed = {self.failed} if self.failed is not None else set()
        if unknown := sorted((self.degraded | self.sound | failed) - set(names)):
            raise ValueError(
                f"{self.group.name}: {', '.join(unknown)} named failed, degraded or sound, "
                f"wanted one of {', '.join(names)}"
            )
        if both := sorted(self.sound & (self.degraded | failed)):
            raise ValueError(
                f"{self.group.name}: {both[0]} named sound and failed or degraded, wanted one"
            )
        if not math.isfinite(self.discount_rate_per_year) or self.discount_rate_per_year < 0:
            raise ValueError(
                f"{self.group.name}: discount_rate_per_year is {self.discount_rate_per_year}, "
                "wanted a finite rate from 0 up"
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

    def counts_for(self, years: Floats) -> Floats:
        """What a unit of money paid so many years from now counts for today."""
        return np.asarray((1 + self.discount_rate_per_year) ** -years)

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


def living_on(job: OpenJob) -> OpenJob:
    """The job as its parts live from here: a degraded one of known delay, for its delay.

    An exponential delay does not age, so such a part is as one that starts now.
    """

    def here(n: Neighbour) -> Neighbour:
        if n.component not in job.degraded or n.delay_years is None or n.component == job.failed:
            return n
        life = WeibullDraws(np.ones_like(n.delay_years), n.delay_years, "years")
        return replace(n, age_years=0.0, life=life)

    return replace(job, neighbours=tuple(here(n) for n in job.neighbours))


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
