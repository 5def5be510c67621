"""The vehicle on the ramp, and what its records advise for it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import polars as pl

from wornby.decisions.open_job import Neighbour, OpenJob
from wornby.decisions.stated_costs import access_costs, money_of, part_costs
from wornby.decisions.while_open import WhileOpenAdvice, renew_while_open
from wornby.errors import EstimateError
from wornby.records.catalogue import Catalogue, Component
from wornby.reports.amounts import amount
from wornby.reports.workshop import RENEWAL_GRADE, Workshop, life_in_years, pace_of

N_PATHS = 20_000
OLDEST_YEARS = 100.0
MOST_MILES_PER_YEAR = 100_000.0


@dataclass(frozen=True, eq=False, slots=True)
class Ramp:
    """The vehicle on the ramp: its age and pace, and what of it has been renewed.

    `renewed_years` has, for parts that are not original, the years since they were renewed.
    """

    age_years: float
    miles_per_year: float
    horizon_years: float
    renewed_years: Mapping[str, float]

    def __post_init__(self) -> None:
        """Refuse what no vehicle can be."""
        for what, value, most in (
            ("age", self.age_years, OLDEST_YEARS),
            ("miles a year", self.miles_per_year, MOST_MILES_PER_YEAR),
            ("horizon in years", self.horizon_years, OLDEST_YEARS),
            *(
                (f"years since {n} was renewed", y, OLDEST_YEARS)
                for n, y in self.renewed_years.items()
            ),
        ):
            if not 0 <= value <= most or (
                value == 0 and what in ("miles a year", "horizon in years")
            ):
                raise ValueError(f"{what} {value:g}: wanted above 0, at most {most:g}")

    def sentence(self) -> str:
        """The vehicle in words."""
        renewed = [f"{name} renewed {y:g} years ago" for name, y in self.renewed_years.items()]
        rest = f"; {', '.join(renewed)}" if renewed else ""
        whole = "all parts original but for those named" if renewed else "all parts original"
        return (
            f"A vehicle of {self.age_years:g} years that does "
            f"{amount(self.miles_per_year, 'miles')} miles a year, {whole}{rest}."
        )


@dataclass(frozen=True, eq=False, slots=True)
class RampAdvice:
    """What to renew while the group is open; `left_out` says which parts have no curve."""

    ramp: Ramp
    advice: WhileOpenAdvice
    left_out: tuple[str, ...]


def while_open_advice(
    workshop: Workshop,
    group: str,
    ramp: Ramp,
    *,
    failed: str | None,
    degraded: frozenset[str] = frozenset(),
    n_paths: int = N_PATHS,
) -> RampAdvice:
    """Which neighbours to renew while the group is open.

    Names of components stand for all their positions; what failed must be one of them.
    """
    neighbours, left_out = [], []
    for component in workshop.catalogue.group(group):
        try:
            neighbours += _neighbours(workshop, component, ramp)
        except EstimateError as error:
            left_out.append(str(error))
    if not neighbours:
        raise EstimateError(f"{group}: no component has a curve: {'; '.join(left_out)}")
    _check_names(workshop.catalogue, group, ramp.renewed_years)
    places = {n.component: n.component.split(",")[0] for n in neighbours}
    worn = {place for place, name in places.items() if {place, name} & degraded}
    unknown = {name for name in degraded if name not in {*places, *places.values()}}
    job = OpenJob(
        group=access_costs(workshop.catalogue, group),
        neighbours=tuple(neighbours),
        failed=failed,
        degraded=frozenset(worn | unknown),
        horizon_years=ramp.horizon_years,
        labour_price_per_hour=money_of(workshop.catalogue).labour_price_per_hour,
    )
    advice = renew_while_open(job, n_paths=n_paths, rng=workshop.rng(f"{group} open"))
    return RampAdvice(ramp, advice, tuple(left_out))


def _check_names(catalogue: Catalogue, group: str, renewed_years: Mapping[str, float]) -> None:
    names = [c.name for c in catalogue.group(group)]
    if unknown := sorted(set(renewed_years) - set(names)):
        raise ValueError(f"{group}: no component {unknown[0]!r}; there are {', '.join(names)}")


def _neighbours(workshop: Workshop, component: Component, ramp: Ramp) -> list[Neighbour]:
    """One neighbour for each place of the component, original or renewed some years ago."""
    original, renewed = (
        life_in_years(
            workshop,
            component,
            origin=origin,
            grade=RENEWAL_GRADE,
            miles_per_year=ramp.miles_per_year,
        )[0]
        for origin in ("original", "renewed")
    )
    places = [f"{component.name}, {place}" for place in component.positions] or [component.name]
    costs = part_costs(workshop.catalogue, component.name, grade=RENEWAL_GRADE)
    since = ramp.renewed_years.get(component.name)
    return [
        Neighbour(
            costs=replace(costs, component=name),
            age_years=ramp.age_years if since is None else since,
            life=original if since is None else renewed,
            renewed_life=renewed,
        )
        for name in places
    ]


def busiest_group_advice(
    workshop: Workshop, *, age_years: float, horizon_years: float
) -> RampAdvice:
    """The advice for the single-place component that fails most often with others behind it."""
    causes = workshop.records.sightings.filter(
        (pl.col("seen") == "renewed") & (pl.col("reason") == "failure")
    )
    counts = dict(causes.group_by("component").len().iter_rows())
    in_groups = [
        c
        for c in workshop.catalogue.components.values()
        if c.access_group is not None
        and not c.positions
        and len(workshop.catalogue.group(c.access_group)) > 1
        and c.name in workshop.original
    ]
    if not in_groups:
        raise EstimateError("no access group with two components of known life: nothing to renew")
    commonest = max(in_groups, key=lambda c: counts.get(c.name, 0))
    ramp = Ramp(age_years, pace_of(workshop), horizon_years, {})
    return while_open_advice(workshop, commonest.access_group or "", ramp, failed=commonest.name)
