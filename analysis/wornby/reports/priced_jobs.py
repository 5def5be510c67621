"""The candidate jobs of an opened workshop, priced once for every answer that asks."""

from collections.abc import Mapping, Sequence

import polars as pl

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.price_question import PricedJob, candidates_done, priced_job
from wornby.errors import EstimateError
from wornby.records.catalogue import CandidateJob
from wornby.reports.workshop import Workshop, life_in_years, pace_of

N_PRICE_DRAWS = 10_000


def candidates(workshop: Workshop) -> tuple[CandidateJob, ...]:
    """The jobs that workshop.toml would price; there must be one."""
    if not workshop.catalogue.fixed_price_jobs:
        raise EstimateError("workshop.toml: no [[fixed_price_job]]; add one for each job to price")
    return workshop.catalogue.fixed_price_jobs


def candidate(workshop: Workshop, name: str | None) -> CandidateJob:
    """The candidate of this name, or the first; an unknown one is a caller's mistake."""
    for job in candidates(workshop):
        if name in (None, job.name):
            return job
    known = "; ".join(job.name for job in candidates(workshop))
    raise ValueError(f"no fixed-price job {name!r}; workshop.toml has: {known}")


def done_by_the_workshop(workshop: Workshop) -> dict[str, pl.DataFrame]:
    """The past jobs of each candidate."""
    return candidates_done(workshop.records, workshop.histories)


def priced(
    workshop: Workshop,
    job: CandidateJob,
    done: Mapping[str, pl.DataFrame],
    *,
    version: str | None = None,
    n_draws: int = N_PRICE_DRAWS,
) -> PricedJob:
    """The job priced, for any vehicle or for one version; the same numbers whenever asked."""
    return priced_job(
        workshop.records,
        workshop.histories,
        job,
        renewed_lives=_renewed_lives(workshop, job),
        n_draws=n_draws,
        rng=workshop.rng(job.name),
        version=version,
        done=done,
    )


def _renewed_lives(workshop: Workshop, job: CandidateJob) -> Sequence[WeibullDraws]:
    """The life of the part fitted in each place, in the job's grade."""
    pace = pace_of(workshop)
    places = [
        component
        for component in map(workshop.catalogue.component, job.renews)
        for _ in component.positions or ("",)
    ]
    return [
        life_in_years(workshop, c, origin="renewed", grade=job.grade, pace=pace)[0] for c in places
    ]
