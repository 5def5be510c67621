"""How often an access group is open for something else, as the records have it."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy import stats

from wornby.histories.counts import DAYS_PER_YEAR
from wornby.records.reading import Records

OWN_CAUSES = ("failure", "degraded finding")
PRIOR_OPENINGS = 0.5
"""Jeffreys' prior for a Poisson rate: half an opening, in no time."""


@dataclass(frozen=True, slots=True)
class ChanceOpenings:
    """Openings seen, and the vehicle-years in which they would have been.

    They are taken to come by chance at one rate, whatever the age of the vehicle.
    """

    n: int
    vehicle_years: float

    @property
    def per_year(self) -> float:
        """Openings a vehicle and year."""
        return self.n / self.vehicle_years

    def interval(self, confidence: float) -> tuple[float, float]:
        """Where the rate lies: a gamma posterior under Jeffreys' prior."""
        law = stats.gamma(self.n + PRIOR_OPENINGS, scale=1 / self.vehicle_years)
        low, high = law.ppf([(1 - confidence) / 2, (1 + confidence) / 2])
        return float(low), float(high)

    def draws(self, n: int, rng: np.random.Generator) -> NDArray[np.float64]:
        """Rates as likely as the records leave them."""
        return rng.gamma(self.n + PRIOR_OPENINGS, size=n) / self.vehicle_years


def chance_openings(records: Records, component: str) -> ChanceOpenings | None:
    """Visits on which the component's group was opened for another of its components.

    Such a visit renewed a neighbour, and this component did not fail and was not degraded
    there. A vehicle counts from its first visit, which is itself left out, to its last. None
    where the component has no group, no neighbour, or no vehicle came twice.
    """
    ours = records.catalogue.component(component)
    if ours.access_group is None:
        return None
    neighbours = [c.name for c in records.catalogue.group(ours.access_group) if c is not ours]
    seen = records.visits.group_by("vehicle").agg(
        first=pl.col("date").min(), last=pl.col("date").max()
    )
    years = seen.select((pl.col("last") - pl.col("first")).dt.total_days().sum()).item()
    if not neighbours or not years:
        return None
    renewed = records.sightings.filter(seen="renewed")
    opened = renewed.filter(pl.col("component").is_in(neighbours)).select("vehicle", "date")
    own = records.sightings.filter(
        (pl.col("component") == component) & pl.col("reason").is_in(OWN_CAUSES)
    )
    visits = (
        opened.unique()
        .join(own, on=["vehicle", "date"], how="anti")
        .join(seen, on="vehicle")
        .filter(pl.col("date") > pl.col("first"))
    )
    return ChanceOpenings(visits.height, years / DAYS_PER_YEAR)
