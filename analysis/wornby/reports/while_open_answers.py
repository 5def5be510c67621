"""Answers at the ramp: what else to renew while a job is open."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import polars as pl

from wornby.decisions.open_job import Neighbour, OpenJob
from wornby.decisions.stated_costs import access_costs, money_of, part_costs
from wornby.decisions.while_open import WhileOpenAdvice, renew_while_open
from wornby.errors import EstimateError
from wornby.records.catalogue import Catalogue, Component
from wornby.reports.amounts import amount, money, percent
from wornby.reports.answer import Answer, Answers
from wornby.reports.sentences import cautions_for
from wornby.reports.workshop import RENEWAL_GRADE, Workshop, life_in_years, pace_of

N_PATHS = 20_000
MOST_BUNDLES = 8
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
        return (
            f"A vehicle of {self.age_years:g} years that does {self.miles_per_year:,.0f} miles a "
            f"year, all parts original{' but for those named' if renewed else ''}{rest}."
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
    job = OpenJob(
        group=access_costs(workshop.catalogue, group),
        neighbours=tuple(neighbours),
        failed=failed,
        degraded=frozenset(
            place
            for name in degraded
            for place in [p for p, c in places.items() if name in (p, c)] or [name]
        ),
        horizon_years=ramp.horizon_years,
        labour_price_per_hour=money_of(workshop.catalogue).labour_price_per_hour,
    )
    advice = renew_while_open(job, n_paths=N_PATHS, rng=workshop.rng(f"{group} open"))
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


def bundle_answer(workshop: Workshop, told: RampAdvice) -> Answer:
    """Every choice while the group is open that may be taken, the cheapest first."""
    currency, advice, job = workshop.catalogue.currency, told.advice, told.advice.job
    people = [
        {
            "renew now": _briefly(row["renew_now"], workshop.catalogue),
            "expected cost": money(row["expected_cost_net"], currency),
            "9 owners in 10 pay": f"{money(row['lower_cost_net'], currency)} to "
            f"{money(row['upper_cost_net'], currency)}",
            "more than the best": money(row["more_than_best_net"], currency),
            "opened again": percent(row["further_opening_chance"]),
            "chance of being best": percent(row["probability_best"]),
        }
        for row in advice.table.filter("allowed").head(MOST_BUNDLES).to_dicts()
    ]
    return Answer(
        f"{job.group.name}: what to renew while it is open"
        + (f" for the {job.failed}" if job.failed else ""),
        pl.DataFrame(people),
        advice.table,
        (
            told.ramp.sentence(),
            f"Costs to the owner over {job.horizon_years:g} years, before tax, on top of the job "
            f"that is open; {advice.later_policy}. {advice.n_paths:,} simulated futures, each "
            "with a curve as likely as the records leave it.",
            *advice.notes,
            *told.left_out,
        ),
    )


def card_answer(workshop: Workshop, told: RampAdvice) -> Answer:
    """The card over the ramp: from what age of the part each neighbour is renewed while open."""
    oldest = (
        workshop.records.vehicles.select(
            (pl.lit(workshop.catalogue.records_until) - pl.col("first_registered"))
            .dt.total_days()
            .max()
        ).item()
        / 365.25
    )
    people = []
    for row in told.advice.break_even_ages.to_dicts():
        component = workshop.catalogue.component(row["component"].split(",")[0])
        people.append(
            {
                "component": row["component"],
                "renew while open once the part has done": _from_age(
                    row["break_even_age_years"], component, told.ramp.miles_per_year, oldest
                ),
                "look for": component.look_for,
            }
        )
    ramp = told.ramp
    return Answer(
        f"{told.advice.job.group.name}: renew while open",
        pl.DataFrame(people),
        told.advice.break_even_ages,
        (
            f"For an owner who keeps the vehicle {ramp.horizon_years:g} years and does "
            f"{ramp.miles_per_year:,.0f} miles a year, the neighbours of a vehicle of "
            f"{ramp.age_years:g} years being original; the age is that of the part, not of the "
            "vehicle.",
            *cautions_for(workshop.catalogue.group(told.advice.job.group.name)),
            *told.left_out,
        ),
    )


def _from_age(
    age_years: float | None, component: Component, miles_per_year: float, oldest_years: float
) -> str:
    """The break-even to the nearest half year, or in miles where the part wears by distance."""
    if age_years is None or age_years > oldest_years:
        return "leave it: it fails too seldom in that time"
    if age_years == 0:
        return "any age"
    if component.scale == "distance":
        return f"{amount(round(age_years * miles_per_year, -3), 'miles')} miles"
    return f"{round(2 * age_years) / 2:g} years"


def _briefly(bundle: str, catalogue: Catalogue) -> str:
    """A bundle's name with all places of a component said once: "coolant transfer pipe (both)"."""
    names = bundle.split(" + ")
    for component in catalogue.components.values():
        places = [f"{component.name}, {place}" for place in component.positions]
        if places and all(place in names for place in places):
            whole = f"{component.name} ({'both' if len(places) == 2 else 'all'})"
            names[names.index(places[0])] = whole
            names = [name for name in names if name not in places]
    return " + ".join(names)


def card_answers(workshop: Workshop, *, age_years: float, horizon_years: float) -> Answers:
    """The card of each access group, for a vehicle of this age and the median pace."""
    ramp = Ramp(age_years, pace_of(workshop), horizon_years, {})
    groups = [g for g in workshop.catalogue.access_groups if workshop.catalogue.group(g)]
    told = [while_open_advice(workshop, group, ramp, failed=None) for group in groups]
    return Answers(tuple(card_answer(workshop, advice) for advice in told))


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
