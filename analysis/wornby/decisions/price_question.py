"""The fixed-price question as workshop.toml and the records put it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs_of_jobs import (
    PAST_JOBS,
    PlannedJob,
    comeback_chances,
    found_counts,
    job_weights,
)
from wornby.decisions.found_elsewhere import FoundElsewhere, workshop_found
from wornby.decisions.hours_over_book import OtherJob, workshop_hours
from wornby.decisions.job_unknowns import sizes_seen
from wornby.decisions.jobs_done import jobs_of_late, past_jobs
from wornby.decisions.price_advice import FixedPriceAdvice, VerdictThresholds, fixed_price
from wornby.decisions.prices import PriceAim
from wornby.decisions.stated_costs import follow_on_price, money_of
from wornby.errors import RecordError
from wornby.histories.fitments import Histories
from wornby.records.catalogue import CandidateJob, Catalogue, Component, PriceRules
from wornby.records.reading import Records

DEMAND_YEARS = 3
"""Next year's jobs are judged by those of the last three years."""


@dataclass(frozen=True, eq=False, slots=True)
class PricedJob:
    """A candidate job, its past jobs and the advice on its price; version None: for any vehicle."""

    job: CandidateJob
    advice: FixedPriceAdvice
    jobs_of_late: int
    jobs_next_year: NDArray[np.int64]
    version: str | None
    past: pl.DataFrame


def price_rules_of(catalogue: Catalogue) -> PriceRules:
    """How the workshop judges a fixed price; there is no answer without."""
    if catalogue.price_rules is None:
        raise RecordError("workshop.toml: no [fixed_price]; a price is judged by its figures")
    return catalogue.price_rules


def candidates_done(records: Records, made: Histories) -> dict[str, pl.DataFrame]:
    """The past jobs of each candidate by its name (see `past_jobs`)."""
    cost = money_of(records.catalogue).labour_cost_per_hour
    return {
        job.name: past_jobs(records, made, job, labour_cost_per_hour=cost)
        for job in records.catalogue.fixed_price_jobs
    }


def priced_job(
    records: Records,
    made: Histories,
    job: CandidateJob,
    *,
    renewed_lives: Sequence[WeibullDraws],
    n_draws: int,
    rng: np.random.Generator,
    version: str | None = None,
    done: Mapping[str, pl.DataFrame] | None = None,
) -> PricedJob:
    """Whether to offer the job at a fixed price, and for how much.

    `renewed_lives` has the life, in years, of the part fitted in each place, in its grade. For a
    `version`, past jobs of the others weigh less and next year's are those of this version; it
    is worth a price of its own where the job is on all versions together. `done` has the past
    jobs of all candidates where they are at hand.
    """
    money, rules = money_of(records.catalogue), price_rules_of(records.catalogue)
    known = candidates_done(records, made) if done is None else done
    past = known[job.name]
    ours = past if version is None else past.filter(pl.col("version") == version)
    seen, years = jobs_of_late(records, ours, years=DEMAND_YEARS)
    often = jobs_of_late(records, past, years=DEMAND_YEARS)[0] / years
    worth_it = version is not None and often >= rules.fewest_jobs_next_year
    demand = jobs_next_year(seen, years=years, n=n_draws, rng=rng)
    advice = fixed_price(
        planned_job(records.catalogue, job, version=version, done=known),
        PAST_JOBS.shape(past),
        comeback_chances=comeback_chances(renewed_lives, warranty_months=job.warranty_months),
        jobs_next_year=demand,
        aim=PriceAim(money.target_margin, money.job_loss_risk, money.year_loss_risk),
        thresholds=VerdictThresholds(
            rules.fewest_past_jobs,
            0.0 if worth_it else rules.fewest_jobs_next_year,
            rules.most_loading_share,
        ),
        prices=[job.present_price_net],
        n_draws=n_draws,
        rng=rng,
    )
    return PricedJob(job, advice, seen, demand, version, past)


def jobs_next_year(
    seen: int, *, years: float, n: int, rng: np.random.Generator
) -> NDArray[np.int64]:
    """Draws of next year's number of jobs, from the number seen in so many years.

    Poisson with an uncertain rate (gamma posterior, Jeffreys prior; Gelman et al., Bayesian
    Data Analysis, 2.6): the spread holds both the luck of one year and the few years seen.
    """
    rate = rng.gamma(seen + 0.5, 1 / years, size=n)
    return np.asarray(rng.poisson(rate), dtype=np.int64)


def planned_job(
    catalogue: Catalogue,
    job: CandidateJob,
    *,
    version: str | None = None,
    done: Mapping[str, pl.DataFrame] | None = None,
) -> PlannedJob:
    """The job at today's costs to the workshop, as workshop.toml states them.

    `done` has the past jobs of all candidates; the hours over book and the found work of the
    others tell of this one's. A visit that is a past job of this one, too, tells nothing twice.
    """
    money, rules = money_of(catalogue), price_rules_of(catalogue)
    book = book_hours(catalogue, job)
    planned = PlannedJob(
        name=job.name,
        version=version,
        other_version_weight=rules.other_version_weight,
        book_hours=book,
        book_hours_spread=rules.book_hours_spread,
        prior_weight_jobs=rules.prior_weight_jobs,
        most_hours=book * rules.most_hours_over_book,
        labour_cost_per_hour=money.labour_cost_per_hour,
        parts_cost_net=_parts_cost(catalogue, job),
        follow_on_cost_net=_follow_on_cost(catalogue, job),
        other_cost_net=0.0,
        found_size_net=rules.found_work_size_net,
        warranty_months=job.warranty_months,
        cancelled_share=rules.cancelled_share,
        cancellation_cost_net=rules.cancellation_cost_net,
    )
    others = _others_done(catalogue, job, done or {})
    hours = [
        OtherJob(
            np.log(past["labour_hours"].to_numpy() / book_hours(catalogue, other)),
            job_weights(planned, past),
            access_of_job(catalogue, other),
        )
        for other, past in others
    ]
    found = [_found_elsewhere(planned, past) for _, past in others]
    return replace(
        planned,
        usual_hours=workshop_hours(planned.hours_prior, access_of_job(catalogue, job), hours),
        usual_found=workshop_found(found),
    )


def _others_done(
    catalogue: Catalogue, job: CandidateJob, done: Mapping[str, pl.DataFrame]
) -> list[tuple[CandidateJob, pl.DataFrame]]:
    """The other candidates with their past jobs, without those that are past ones of this, too."""
    ours = done[job.name]["job"].to_list() if job.name in done else []
    return [
        (other, done[other.name].filter(~pl.col("job").is_in(ours)))
        for other in catalogue.fixed_price_jobs
        if other.name != job.name and other.name in done
    ]


def _found_elsewhere(planned: PlannedJob, past: pl.DataFrame) -> FoundElsewhere:
    sizes = sizes_seen(past["found_cost_net"], job_weights(planned, past))
    return FoundElsewhere(*found_counts(planned, past), sizes)


def book_hours(catalogue: Catalogue, job: CandidateJob) -> float:
    """Hours by workshop.toml: each access once, and each part in each of its places."""
    own = 0.0
    for component in _renewed(catalogue, job):
        if component.own_hours is None:
            raise RecordError(f"workshop.toml: component {component.name!r}: no own_hours; add it")
        own += component.own_hours * places(component)
    return own + sum(catalogue.access_groups[g].access_hours for g in access_of_job(catalogue, job))


def places(component: Component) -> int:
    """In how many places of a vehicle the component sits."""
    return max(len(component.positions), 1)


def _renewed(catalogue: Catalogue, job: CandidateJob) -> list[Component]:
    return [catalogue.component(name) for name in job.renews]


def access_of_job(catalogue: Catalogue, job: CandidateJob) -> frozenset[str]:
    """The strip-downs that the job takes."""
    groups = {c.access_group for c in _renewed(catalogue, job)}
    return frozenset(group for group in groups if group is not None)


def follow_on_works(catalogue: Catalogue, job: CandidateJob) -> list[str]:
    """The work that the job always entails afterwards, by its access and by its parts."""
    works = {
        *(w for g in access_of_job(catalogue, job) for w in catalogue.access_groups[g].follow_on),
        *(w for c in _renewed(catalogue, job) for w in c.follow_on),
    }
    return sorted(works)


def companion_parts_of(catalogue: Catalogue, job: CandidateJob) -> list[str]:
    """The parts that belong to the job because they belong to it or to what it renews."""
    names = [name for c in _renewed(catalogue, job) for name in c.companion_parts]
    return sorted({*names, *job.companion_parts})


def _parts_cost(catalogue: Catalogue, job: CandidateJob) -> float:
    """The parts at today's cost in the job's grade, with the companion parts that they take."""
    total = sum(catalogue.companion_parts[name].part_cost_net for name in job.companion_parts)
    for component in _renewed(catalogue, job):
        if job.grade not in component.part_cost_net:
            raise RecordError(
                f"workshop.toml: component {component.name!r}: no part_cost_net for "
                f"{job.grade!r}; a price needs it"
            )
        companions = [catalogue.companion_parts[name] for name in component.companion_parts]
        each = component.part_cost_net[job.grade] + sum(part.part_cost_net for part in companions)
        total += each * places(component)
    return total


def _follow_on_cost(catalogue: Catalogue, job: CandidateJob) -> float:
    """What the job always entails afterwards, each work once."""
    rate = money_of(catalogue).labour_cost_per_hour
    works = follow_on_works(catalogue, job)
    return sum(follow_on_price(catalogue.follow_on[name], rate) for name in works)
