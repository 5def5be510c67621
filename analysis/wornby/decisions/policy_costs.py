"""A part renewed alone by age, when its access happens to be open, by the calendar, or left."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wornby.curves.stepped_hazards import HazardDraws
from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.block import block_replacement
from wornby.decisions.costs import (
    AccessGroup,
    PartCosts,
    failure_cost,
    planned_cost,
    renewal_cost,
)
from wornby.decisions.least_cost_age import UncertainRenewalAdvice
from wornby.decisions.opportunity import opportunity_replacement
from wornby.decisions.renewal_age import age_replacement

ALONE, WHEN_OPEN, BY_CALENDAR = "alone by age", "when open", "by the calendar"
LEFT = "left until it fails"
N_DRAWS = 200
BLOCK_STEPS = 300


@dataclass(frozen=True, eq=False, slots=True)
class Policies:
    """Each policy at its best under the same draws of the curve, and what leaving costs.

    `told` has the policies by name; without chance openings there is none when open.
    """

    told: dict[str, UncertainRenewalAdvice]
    run_to_failure: NDArray[np.float64]

    @property
    def costs(self) -> dict[str, NDArray[np.float64]]:
        """Cost a year of each policy and of leaving, under each draw."""
        rates = {name: told.rates for name, told in self.told.items()}
        return {**rates, LEFT: self.run_to_failure}

    def cheapest(self, *, worth_it: float) -> str:
        """The policy of least mean cost; leaving, unless one saves at least this share of it."""
        means = {name: float(costs.mean()) for name, costs in self.costs.items()}
        best = min(means, key=lambda name: means[name])
        return best if means[best] < (1 - worth_it) * means[LEFT] else LEFT

    def probability_cheapest(self, name: str, *, worth_it: float) -> float:
        """Share of draws in which no policy beats this one by more than what is worth it."""
        least = np.min(np.stack(list(self.costs.values())), axis=0)
        return float(np.mean(self.costs[name] <= least + worth_it * self.run_to_failure))


def policies(
    draws: WeibullDraws | HazardDraws,
    *,
    part: PartCosts,
    group: AccessGroup,
    labour_price_per_hour: float,
    openings_per_year: NDArray[np.float64] | None,
    confidence: float,
) -> Policies:
    """Price the three policies and doing nothing, all under the same draws.

    Renewal while the group is open for something else pays no access; alone and by the calendar
    pay it, as a failure does. `openings_per_year` has one rate for each of `N_DRAWS` draws, or
    is None where nothing else opens the group.
    """
    some = draws.thinned(N_DRAWS)
    rate = labour_price_per_hour
    planned = planned_cost(part, group, labour_price_per_hour=rate)
    failure = failure_cost(part, group, labour_price_per_hour=rate)
    alone = age_replacement(some, planned_cost=planned, failure_cost=failure, confidence=confidence)
    told = {ALONE: alone}
    if openings_per_year is not None:
        told[WHEN_OPEN] = opportunity_replacement(
            some,
            openings_per_year=openings_per_year,
            renewal_cost=renewal_cost(part, labour_price_per_hour=rate),
            failure_cost=failure,
            confidence=confidence,
        )
    told[BY_CALENDAR] = block_replacement(
        some,
        planned_cost=planned,
        failure_cost=failure,
        confidence=confidence,
        steps=BLOCK_STEPS,
    )
    return Policies(told, alone.run_to_failure)
