"""Jobs that have an access group open, and what each bundle costs under the true lives.

A situation is a vehicle on the ramp: its age and pace, what has failed, how long the owner keeps
it, and sometimes a neighbour that was renewed before. The parts live by the world's own Weibulls,
left and right tied as there: that a part failed or lasted says something of its twin.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm
from told_records import demo_catalogue

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.later_policy import only_the_failed, past_a_threshold
from wornby.decisions.open_job import Neighbour, OpenJob, bundles
from wornby.decisions.openings import horizon_costs
from wornby.decisions.paths import sampled_paths
from wornby.decisions.stated_costs import access_costs, money_of, part_costs
from wornby.demo.parameters import TRUE_LIVES
from wornby.records.catalogue import Component
from wornby.reports.ramp import Ramp
from wornby.reports.workshop import RENEWAL_GRADE
from wornby.reports.yearly_pace import Pace

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

AGES, HORIZONS, PACES = (6.0, 9.0, 12.0, 16.0), (2.0, 4.0, 8.0), (5_000.0, 8_000.0, 12_000.0)
RENEWED_CHANCE, RENEWED_YEARS = 0.4, (1.0, 6.0)
OLD_YEARS = 10.0
SHARED = np.linspace(-6, 6, 1201)

RENEW_ALL, LEAVE_ALL = "renew all", "leave all"
ONLY_FAILED, OLDER = "only what fails, now and later", "renew what is older than 10 years"


@dataclass(frozen=True, eq=False, slots=True)
class Situation:
    """The group that is open, what failed there (None: open for another reason), the vehicle."""

    group: str
    failed: str | None
    ramp: Ramp


@dataclass(frozen=True, eq=False, slots=True)
class TruePrices:
    """What each bundle costs under the truth in one situation.

    Costs run from the open job to the horizon, without the opening and the failed part's renewal,
    which are paid anyway; later openings follow whichever rule of the house is the cheaper under
    the truth. `rules` has what rules of thumb cost, `paired` the Monte-Carlo standard error of
    what each costs beyond the oracle, on the same paths.
    """

    components: tuple[str, ...]
    choices: Bools
    costs: Floats
    rules: dict[str, float]
    paired: dict[str, float]

    @property
    def oracle(self) -> float:
        """The least cost: that of the best bundle under the truth."""
        return float(self.costs.min())

    def cost_of(self, bundle: tuple[str, ...]) -> float:
        """What renewing these now costs."""
        wanted = np.isin(self.components, bundle)
        return float(self.costs[(self.choices == wanted).all(axis=1)][0])


def situations(n_per_group: int, rng: np.random.Generator) -> list[Situation]:
    """So many situations of each access group; what failed goes round its parts and none."""
    catalogue = demo_catalogue()
    asked = []
    for group in catalogue.access_groups:
        names = [place for c in catalogue.group(group) for place in places_of(c)]
        failing = [None, *names]
        for i in range(n_per_group):
            failed, renewed = failing[i % len(failing)], {}
            others = sorted({n.split(",")[0] for n in names} - {(failed or "").split(",")[0]})
            if rng.random() < RENEWED_CHANCE:
                renewed = {str(rng.choice(others)): round(float(rng.uniform(*RENEWED_YEARS)), 1)}
            age, pace, horizon = (float(rng.choice(of)) for of in (AGES, PACES, HORIZONS))
            asked.append(Situation(group, failed, Ramp(age, Pace(pace, "miles"), horizon, renewed)))
    return asked


def places_of(component: Component) -> list[str]:
    """The names of a component's places, as the advice has them."""
    return [f"{component.name}, {place}" for place in component.positions] or [component.name]


def true_life(component: Component, pace: Pace) -> WeibullDraws:
    """The Weibull that parts of the component truly live by, in years at this pace."""
    life = TRUE_LIVES[component.name]
    scale = life.scale_value / (pace.miles_per_year if component.scale == "distance" else 1.0)
    return WeibullDraws(np.array([life.shape]), np.array([scale]), "years")


def true_job(situation: Situation) -> OpenJob:
    """The open job with the curves that are true; a genuine part lives as the original."""
    catalogue, ramp = demo_catalogue(), situation.ramp
    neighbours = []
    for component in catalogue.group(situation.group):
        life = true_life(component, ramp.pace)
        costs = part_costs(catalogue, component.name, grade=RENEWAL_GRADE)
        age = ramp.renewed_years.get(component.name, ramp.age_years)
        neighbours += [
            Neighbour(replace(costs, component=name), age, life, life)
            for name in places_of(component)
        ]
    return OpenJob(
        group=access_costs(catalogue, situation.group),
        neighbours=tuple(neighbours),
        failed=situation.failed,
        degraded=frozenset(),
        horizon_years=ramp.horizon_years,
        labour_price_per_hour=money_of(catalogue).labour_price_per_hour,
    )


def true_prices(situation: Situation, *, n_paths: int, rng: np.random.Generator) -> TruePrices:
    """Price every bundle of a situation, and the rules of thumb, on the same true paths."""
    job = true_job(situation)
    paths = replace(
        sampled_paths(job, n_paths=n_paths, rng=rng),
        first_luck=tied_luck(job, situation, rng, n_paths),
    )
    choices = bundles(job)
    ages = np.tile(job.ages, (len(choices), 1))
    failed_only, threshold = (
        horizon_costs(job, paths, policy, bundles=choices, ages=ages)[0]
        for policy in (only_the_failed(job), past_a_threshold(job))
    )
    used = min(failed_only, threshold, key=lambda cost: float(cost.mean(axis=1).min()))
    best = used[int(used.mean(axis=1).argmin())]
    old = (job.ages > OLD_YEARS) & (np.array(job.components) != job.failed)
    ruled = {
        RENEW_ALL: used[-1],
        LEAVE_ALL: used[0],
        ONLY_FAILED: failed_only[0],
        OLDER: used[int((choices == old).all(axis=1).argmax())],
    }
    return TruePrices(
        components=job.components,
        choices=choices,
        costs=used.mean(axis=1),
        rules={name: float(cost.mean()) for name, cost in ruled.items()},
        paired={
            name: float((cost - best).std(ddof=1) / np.sqrt(n_paths))
            for name, cost in ruled.items()
        },
    )


def tied_luck(job: OpenJob, situation: Situation, rng: np.random.Generator, n_paths: int) -> Floats:
    """Hazard left to parts in place whose twin says something of them, nan for the others.

    Left and right originals are tied by a Gaussian copula with a shared normal number. That
    number is drawn on a grid by how well it explains what is known: both alive at their age, or
    one failed just now. Given it the two are independent.
    """
    luck = np.full((n_paths, len(job.components)), np.nan)
    for name in sorted({n.split(",")[0] for n in job.components}):
        tie = TRUE_LIVES[name].side_correlation
        at = [c for c, place in enumerate(job.components) if place.split(",")[0] == name]
        if not tie or name in situation.ramp.renewed_years:
            continue
        spent = np.array([hazard_spent(job.neighbours[c]) for c in at])
        limit, own = norm.ppf(np.exp(-spent)), np.sqrt(1 - tie)
        reach = (limit[:, None] - np.sqrt(tie) * SHARED) / own
        failed = np.array([job.components[c] == job.failed for c in at])
        log_weight = norm.logpdf(SHARED) + np.where(
            failed[:, None], norm.logpdf(reach), norm.logcdf(reach)
        ).sum(axis=0)
        weight = np.exp(log_weight - log_weight.max())
        shared = rng.choice(SHARED, size=n_paths, p=weight / weight.sum())
        for c, end in zip(at, limit, strict=True):
            if job.components[c] == job.failed:
                continue
            below = norm.cdf((end - np.sqrt(tie) * shared) / own)
            number = np.sqrt(tie) * shared + own * norm.ppf(below * rng.random(n_paths))
            luck[:, c] = -norm.logcdf(number) - hazard_spent(job.neighbours[c])
    return luck


def hazard_spent(neighbour: Neighbour) -> float:
    """Cumulative hazard of a part in place up to its age."""
    return float((neighbour.age_years / neighbour.life.scale[0]) ** neighbour.life.shape[0])
