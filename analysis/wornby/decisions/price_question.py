"""The fixed-price question as workshop.toml and the records put it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs_of_jobs import PAST_JOBS, PlannedJob, comeback_chances
from wornby.decisions.jobs_done import jobs_of_late, past_jobs
from wornby.decisions.price_advice import FixedPriceAdvice, VerdictThresholds, fixed_price
from wornby.decisions.prices import PriceAim
from wornby.decisions.stated_costs import money_of
from wornby.errors import RecordError
from wornby.histories.fitments import Histories
from wornby.records.catalogue import CandidateJob, Catalogue, PriceRules
from wornby.records.reading import Records

DEMAND_YEARS = 3
"""Next year's jobs are judged by those of the last three years."""


@dataclass(frozen=True, eq=False, slots=True)
class PricedJob:
    """A candidate job, its past jobs and the advice on its price."""

    job: CandidateJob
    advice: FixedPriceAdvice
    jobs_of_late: int
    jobs_next_year: NDArray[np.int64]


def price_rules_of(catalogue: Catalogue) -> PriceRules:
    """How the workshop judges a fixed price; there is no answer without."""
    if catalogue.price_rules is None:
        raise RecordError("workshop.toml: no [fixed_price]; a price is judged by its figures")
    return catalogue.price_rules


def priced_job(
    records: Records,
    made: Histories,
    job: CandidateJob,
    *,
    renewed_lives: Sequence[WeibullDraws],
    n_draws: int,
    rng: np.random.Generator,
) -> PricedJob:
    """Whether to offer the job at a fixed price, and for how much.

    `renewed_lives` has the life, in years, of the part fitted in each place, in its grade.
    """
    money, rules = money_of(records.catalogue), price_rules_of(records.catalogue)
    past = past_jobs(records, made, job, labour_cost_per_hour=money.labour_cost_per_hour)
    seen, years = jobs_of_late(records, past, years=DEMAND_YEARS)
    demand = jobs_next_year(seen, years=years, n=n_draws, rng=rng)
    advice = fixed_price(
        planned_job(records.catalogue, job),
        PAST_JOBS.shape(past),
        comeback_chances=comeback_chances(renewed_lives, warranty_months=job.warranty_months),
        jobs_next_year=demand,
        aim=PriceAim(money.target_margin, money.job_loss_risk, money.year_loss_risk),
        thresholds=VerdictThresholds(
            rules.fewest_past_jobs, rules.fewest_jobs_next_year, rules.most_loading_share
        ),
        prices=[job.present_price_net],
        n_draws=n_draws,
        rng=rng,
    )
    return PricedJob(job, advice, seen, demand)


def jobs_next_year(
    seen: int, *, years: float, n: int, rng: np.random.Generator
) -> NDArray[np.int64]:
    """Draws of next year's number of jobs, from the number seen in so many years.

    Poisson with an uncertain rate (gamma posterior, Jeffreys prior; Gelman et al., Bayesian
    Data Analysis, 2.6): the spread holds both the luck of one year and the few years seen.
    """
    rate = rng.gamma(seen + 0.5, 1 / years, size=n)
    return np.asarray(rng.poisson(rate), dtype=np.int64)


def planned_job(catalogue: Catalogue, job: CandidateJob) -> PlannedJob:
    """The job at today's costs to the workshop, as workshop.toml states them."""
    money, rules = money_of(catalogue), price_rules_of(catalogue)
    parts = [catalogue.component(name) for name in job.renews]
    groups = {c.access_group for c in parts if c.access_group is not None}
    follow_on = {
        *(w for g in groups for w in catalogue.access_groups[g].follow_on),
        *(w for c in parts for w in c.follow_on),
    }
    works = [catalogue.follow_on[name] for name in sorted(follow_on)]
    quantity = {c.name: max(len(c.positions), 1) for c in parts}
    for component in parts:
        if component.own_hours is None or job.grade not in component.part_cost_net:
            raise RecordError(
                f"workshop.toml: component {component.name!r}: no own_hours or no part_cost_net "
                f"for {job.grade!r}; a price needs both"
            )
    book_hours = sum(catalogue.access_groups[g].access_hours for g in groups) + sum(
        (c.own_hours or 0.0) * quantity[c.name] for c in parts
    )
    return PlannedJob(
        name=job.name,
        version=None,
        other_version_weight=rules.other_version_weight,
        book_hours=book_hours,
        book_hours_spread=rules.book_hours_spread,
        prior_weight_jobs=rules.prior_weight_jobs,
        most_hours=book_hours * rules.most_hours_over_book,
        labour_cost_per_hour=money.labour_cost_per_hour,
        parts_cost_net=sum(c.part_cost_net[job.grade] * quantity[c.name] for c in parts),
        follow_on_cost_net=sum(
            w.labour_hours * money.labour_cost_per_hour + w.materials_cost_net + w.sublet_cost_net
            for w in works
        ),
        other_cost_net=0.0,
        found_size_net=rules.found_work_size_net,
        warranty_months=job.warranty_months,
    )
