"""The vehicle on the ramp, and what its records advise for it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import polars as pl

from wornby.curves.delay_times import DelayTime
from wornby.decisions.open_job import Neighbour, OpenJob
from wornby.decisions.shared_wear import SharedPlaces
from wornby.decisions.stated_costs import access_costs, money_of, part_costs
from wornby.decisions.while_open import WhileOpenAdvice, renew_while_open
from wornby.errors import EstimateError, RecordError
from wornby.records.catalogue import Catalogue, Component
from wornby.reports.delays import delay_of
from wornby.reports.wear import places_alike
from wornby.reports.workshop import RENEWAL_GRADE, Workshop, life_in_years, pace_of
from wornby.reports.yearly_pace import Pace

N_PATHS = 10_000
OLDEST_YEARS = 100.0
MOST_A_YEAR = 200_000.0
"""Miles or kilometres."""


@dataclass(frozen=True, eq=False, slots=True)
class Ramp:
    """The vehicle on the ramp: its age and pace, and what of it has been renewed.

    `renewed_years` has, for parts that are not original, the years since they were renewed.
    """

    age_years: float
    pace: Pace
    horizon_years: float
    renewed_years: Mapping[str, float]

    def __post_init__(self) -> None:
        """Refuse what no vehicle can be."""
        for what, value, most in (
            ("age", self.age_years, OLDEST_YEARS),
            (f"{self.pace.unit} a year", self.pace.per_year, MOST_A_YEAR),
            ("horizon in years", self.horizon_years, OLDEST_YEARS),
            *(
                (f"years since {n} was renewed", y, OLDEST_YEARS)
                for n, y in self.renewed_years.items()
            ),
        ):
            if not 0 <= value <= most or (value == 0 and what == "horizon in years"):
                raise ValueError(f"{what} {value:g}: wanted above 0, at most {most:g}")

    def sentence(self) -> str:
        """The vehicle in words."""
        renewed = [f"{name} renewed {y:g} years ago" for name, y in self.renewed_years.items()]
        rest = f"; {', '.join(renewed)}" if renewed else ""
        whole = "all parts original but for those named" if renewed else "all parts original"
        return f"A vehicle of {self.age_years:g} years that does {self.pace}, {whole}{rest}."


@dataclass(frozen=True, eq=False, slots=True)
class RampAdvice:
    """What to renew while the group is open; `left_out` says which parts have no curve.

    `apart` is what the advice would be if no places wore alike; None where none do.
    """

    ramp: Ramp
    advice: WhileOpenAdvice
    left_out: tuple[str, ...]
    apart: WhileOpenAdvice | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """What the open job found: names of components, for all their places, or of one place."""

    failed: str | None = None
    degraded: frozenset[str] = frozenset()
    sound: frozenset[str] = frozenset()

    def looked_at(self, component: Component) -> bool:
        """Whether a condition is told of the component or one of its places."""
        names = {component.name, *(f"{component.name}, {p}" for p in component.positions)}
        return bool(names & (self.degraded | self.sound))


def while_open_advice(
    workshop: Workshop,
    group: str,
    ramp: Ramp,
    *,
    failed: str | None,
    degraded: frozenset[str] = frozenset(),
    sound: frozenset[str] = frozenset(),
    discount_rate_per_year: float = 0.0,
    beside_apart: bool = False,
    n_paths: int = N_PATHS,
) -> RampAdvice:
    """Which neighbours to renew while the group is open.

    Names of components stand for all their places; what failed must be one of them. Places of one
    component wear alike as workshop.toml states or the records tell; `beside_apart` asks besides
    for the advice if they did not.
    """
    rate = money_of(workshop.catalogue).labour_price_per_hour
    found = Found(failed, degraded, sound)
    neighbours, left_out = _behind(workshop, group, ramp, found)
    places = {n.component: n.component.split(",")[0] for n in neighbours}
    job = OpenJob(
        group=access_costs(workshop.catalogue, group),
        neighbours=neighbours,
        failed=failed,
        degraded=_places_named(degraded, places),
        horizon_years=ramp.horizon_years,
        labour_price_per_hour=rate,
        sound=_places_named(sound, places),
        discount_rate_per_year=discount_rate_per_year,
    )
    told = (
        places_alike(workshop, workshop.catalogue.component(name))
        for name in dict.fromkeys(places.values())
    )
    alike = [one for one in told if one is not None]

    def advice(shared: list[SharedPlaces]) -> WhileOpenAdvice:
        rng = workshop.rng(f"{group} open")
        return renew_while_open(job, n_paths=n_paths, rng=rng, shared=shared)

    apart = advice([]) if alike and beside_apart else None
    return RampAdvice(ramp, advice(alike), left_out, apart)


def _behind(
    workshop: Workshop, group: str, ramp: Ramp, found: Found
) -> tuple[tuple[Neighbour, ...], tuple[str, ...]]:
    """The neighbours behind the group's access, and why the others cannot be priced."""
    neighbours: list[Neighbour] = []
    left_out = []
    for component in workshop.catalogue.group(group):
        try:
            neighbours += _neighbours(workshop, component, ramp, found)
        except (EstimateError, RecordError) as error:
            left_out.append(str(error))
    _check_names(workshop.catalogue, group, ramp.renewed_years)
    if not neighbours:
        raise EstimateError(f"{group}: no component has a curve: {'; '.join(left_out)}")
    return tuple(neighbours), tuple(left_out)


def _places_named(names: frozenset[str], places: Mapping[str, str]) -> frozenset[str]:
    """The places that names stand for; a name that is none stays, for the job to refuse."""
    told = {place for place, name in places.items() if {place, name} & names}
    return frozenset(told | {n for n in names if n not in {*places, *places.values()}})


def _check_names(catalogue: Catalogue, group: str, renewed_years: Mapping[str, float]) -> None:
    names = [c.name for c in catalogue.group(group)]
    if unknown := sorted(set(renewed_years) - set(names)):
        raise ValueError(f"{group}: no component {unknown[0]!r}; there are {', '.join(names)}")


def _neighbours(
    workshop: Workshop, component: Component, ramp: Ramp, found: Found
) -> list[Neighbour]:
    """One neighbour for each place of the component, original or renewed some years ago."""
    original, renewed = (
        life_in_years(
            workshop,
            component,
            origin=origin,
            grade=RENEWAL_GRADE,
            pace=ramp.pace,
        )[0]
        for origin in ("original", "renewed")
    )
    places = [f"{component.name}, {place}" for place in component.positions] or [component.name]
    costs = part_costs(workshop.catalogue, component.name, grade=RENEWAL_GRADE)
    since = ramp.renewed_years.get(component.name)
    delay = _delay(workshop, component) if found.looked_at(component) else None
    return [
        Neighbour(
            costs=replace(costs, component=name),
            age_years=ramp.age_years if since is None else since,
            life=original if since is None else renewed,
            renewed_life=renewed,
            delay_years=None if delay is None else delay.mean_years,
            detection=_best_look(workshop.catalogue, name),
        )
        for name in places
    ]


def _delay(workshop: Workshop, component: Component) -> DelayTime | None:
    try:
        return delay_of(workshop, component)
    except (EstimateError, RecordError):
        return None


def _best_look(catalogue: Catalogue, name: str) -> float:
    """The chance that the way which sees the part best sees a defect: the job has it open."""
    component, _, place = name.partition(", ")
    return max((look.chance(component, place) for look in catalogue.looks.values()), default=0.0)


def usual_ramp(workshop: Workshop, *, age_years: float, horizon_years: float) -> Ramp:
    """A vehicle of this age and of the book's usual pace, all its parts original."""
    return Ramp(age_years, pace_of(workshop), horizon_years, {})


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
    ramp = usual_ramp(workshop, age_years=age_years, horizon_years=horizon_years)
    return while_open_advice(workshop, commonest.access_group or "", ramp, failed=commonest.name)
