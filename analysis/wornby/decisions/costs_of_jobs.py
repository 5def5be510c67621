"""What the next job of a kind will cost the workshop, and a year of them."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs import check_amounts
from wornby.decisions.found_elsewhere import NOTHING_KNOWN, FoundPrior
from wornby.decisions.job_hours import HoursPrior, hours_posterior
from wornby.decisions.job_unknowns import Unknowns, sizes_added, sizes_drawn, sizes_seen
from wornby.decisions.long_run import check_draws
from wornby.errors import EstimateError
from wornby.tables import Column, Table

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]

PAST_JOBS = Table(
    "past_jobs",
    {
        "job": Column(pl.String, "the job's number", True),
        "version": Column(pl.String, "version of the vehicle"),
        "labour_hours": Column(pl.Float64, "hours worked, found work and comeback apart", True),
        "parts_cost_net": Column(pl.Float64, "what the parts cost the workshop then"),
        "other_cost_net": Column(pl.Float64, "consumables and sublet work, follow-on work apart"),
        "found_cost_net": Column(pl.Float64, "work nobody could see before; empty: none"),
        "comeback_cost_net": Column(pl.Float64, "what doing it again cost; empty: no comeback"),
    },
)


@dataclass(frozen=True, slots=True)
class PlannedJob:
    """A candidate job as the catalogue has it, at today's costs to the workshop.

    `book_hours_spread` is the standard deviation of the log hours around the book, and
    `prior_weight_jobs` says how many past jobs the book is worth. At `most_hours` work stops
    and the customer is asked, so no job costs more labour. `found_size_net` is a usual size of
    found work, used until some has been seen. A past job of another version than `version`
    counts as `other_version_weight` jobs (version None: all count fully). Of the jobs booked,
    `cancelled_share` are called off, each at `cancellation_cost_net`, and those done bear it.
    `usual_hours` is what the workshop's other jobs say of the hours; None: the book alone.
    `usual_found` is what they say of found work.
    """

    name: str
    version: str | None
    other_version_weight: float
    book_hours: float
    book_hours_spread: float
    prior_weight_jobs: float
    most_hours: float
    labour_cost_per_hour: float
    parts_cost_net: float
    follow_on_cost_net: float
    other_cost_net: float
    found_size_net: float
    warranty_months: float
    cancelled_share: float = 0.0
    cancellation_cost_net: float = 0.0
    usual_hours: HoursPrior | None = None
    usual_found: FoundPrior = NOTHING_KNOWN

    @property
    def hours_prior(self) -> HoursPrior:
        """What is thought of its hours before its own past jobs are looked at."""
        weight = self.prior_weight_jobs
        book = HoursPrior(self.book_hours, weight, self.book_hours_spread, weight)
        return self.usual_hours or book

    def __post_init__(self) -> None:
        """Refuse what no job can take."""
        numbers = {f.name: getattr(self, f.name) for f in fields(self)[2:-2]}
        check_amounts(self.name, **numbers)
        for name in ("book_hours", "book_hours_spread", "prior_weight_jobs"):
            if numbers[name] == 0:
                raise ValueError(f"{self.name}: {name} is 0, wanted above 0")
        if self.most_hours < self.book_hours or self.other_version_weight > 1:
            raise ValueError(
                f"{self.name}: most_hours {self.most_hours} and other_version_weight "
                f"{self.other_version_weight}, wanted at least the book hours and at most 1"
            )
        if self.cancelled_share >= 1:
            raise ValueError(f"{self.name}: cancelled_share {self.cancelled_share}, wanted below 1")


@dataclass(frozen=True, eq=False, slots=True)
class JobCosts:
    """The workshop's cost of the next job, and of next year's jobs: one draw a place.

    In one draw of a year all jobs share what is unknown about the job: its usual hours, the
    chance of found work, the renewed part's life. `without_found` leaves found work to be
    charged by itself. `unknowns` has the truth behind each draw.
    """

    job: Floats
    job_without_found: Floats
    year_jobs: Counts
    year: Floats
    year_without_found: Floats
    unknowns: Unknowns


def job_weights(planned: PlannedJob, past: pl.DataFrame) -> Floats:
    """How much each past job counts: one, or less for another version."""
    if planned.version is None:
        return np.ones(past.height)
    same = (past["version"] == planned.version).fill_null(False).to_numpy()
    return np.where(same, 1.0, planned.other_version_weight)


def found_counts(planned: PlannedJob, past: pl.DataFrame) -> tuple[float, float]:
    """Weighted number of past jobs with found work, and without."""
    weights = job_weights(planned, past)
    found = (past["found_cost_net"].fill_null(0.0) > 0).to_numpy()
    return float(weights[found].sum()), float(weights[~found].sum())


def comeback_chances(lives: Sequence[WeibullDraws], *, warranty_months: float) -> Floats:
    """The chance that any of the parts renewed fails within the warranty, under each draw.

    One life in years for each place renewed, all with as many draws; the places are independent.

    >>> aftermarket = WeibullDraws(np.array([1.2]), np.array([6.0]), "years")
    >>> comeback_chances([aftermarket, aftermarket], warranty_months=12).round(3)
    array([0.208])
    """
    for life in lives:
        check_draws(life, "comebacks")
    kept = [life.survival(warranty_months / 12)[:, 0] for life in lives]
    return np.asarray(1 - np.prod(kept, axis=0))


def job_costs(
    planned: PlannedJob,
    past: pl.DataFrame,
    *,
    comeback_chances: Floats,
    jobs_next_year: Counts,
    n_draws: int,
    rng: np.random.Generator,
) -> JobCosts:
    """Draw the cost of the next job, and of a year of them, from past jobs and today's costs.

    Hours are lognormal around the book, updated by past jobs. Found work has a Beta chance,
    `usual_found` updated by past jobs, and the sizes seen, here and on other jobs, or the stated
    size until any is seen. A comeback has
    one of `comeback_chances` (see the function of that name), and costs what past comebacks
    did, or the whole job again until any is seen. A job that is done bears the cost of those
    called off since the one before it.
    """
    check_past_jobs(planned, past)
    if not comeback_chances.size or comeback_chances.min() < 0 or comeback_chances.max() > 1:
        raise ValueError(f"{planned.name}: comeback_chances, wanted one or more from 0 to 1")
    if n_draws < 100 or not jobs_next_year.size or jobs_next_year.min() < 0:
        raise ValueError(
            f"{planned.name}: {n_draws} draws, {jobs_next_year.size} counts of next year's jobs, "
            "wanted 100 draws or more, and one count or more from 0 up"
        )
    unknowns = _unknowns(planned, past, comeback_chances, n_draws=n_draws, rng=rng)
    job, job_found = _costs(planned, unknowns, np.arange(n_draws), rng)
    year_jobs = rng.choice(jobs_next_year, size=n_draws)
    draw = np.repeat(np.arange(n_draws), year_jobs)
    cost, found = _costs(planned, unknowns, draw, rng)
    return JobCosts(
        job=job,
        job_without_found=job - job_found,
        year_jobs=year_jobs,
        year=_sums(draw, cost, n_draws),
        year_without_found=_sums(draw, cost - found, n_draws),
        unknowns=unknowns,
    )


def _sums(draw: NDArray[np.intp], cost: Floats, n_draws: int) -> Floats:
    return np.bincount(draw, weights=cost, minlength=n_draws).astype(np.float64)


def check_past_jobs(planned: PlannedJob, past: pl.DataFrame) -> None:
    """Name the first past job that cannot have been."""
    PAST_JOBS.shape(past)
    money = [name for name in PAST_JOBS.columns if name.endswith("_cost_net")]
    broken = (pl.col("labour_hours").fill_null(0.0) <= 0) | pl.any_horizontal(
        (pl.col(name) < 0).fill_null(False) for name in money
    )
    wrong = past.filter(broken)
    if wrong.height:
        raise EstimateError(
            f"{planned.name}: job {wrong['job'][0]} has no labour hours or a negative cost, "
            "wanted hours above 0 and costs from 0 up"
        )


def _unknowns(
    planned: PlannedJob,
    past: pl.DataFrame,
    comeback_chances: Floats,
    *,
    n_draws: int,
    rng: np.random.Generator,
) -> Unknowns:
    weights = job_weights(planned, past)
    hours = hours_posterior(
        past["labour_hours"].to_numpy(),
        weights,
        prior=planned.hours_prior,
    )
    log_mean, log_spread = hours.draws(n_draws, rng)
    found, unfound = found_counts(planned, past)
    usual = planned.usual_found
    others = np.append(past["other_cost_net"].fill_null(0.0).to_numpy(), planned.other_cost_net)
    return Unknowns(
        log_mean=log_mean,
        log_spread=log_spread,
        found_chance=rng.beta(usual.found + found, usual.unfound + unfound, size=n_draws),
        comeback_chance=rng.choice(comeback_chances, size=n_draws),
        other_sizes=(others, np.append(weights, 1.0)),
        found_sizes=sizes_added(usual.sizes, sizes_seen(past["found_cost_net"], weights)),
        comeback_sizes=sizes_seen(past["comeback_cost_net"], weights),
    )


def _costs(
    planned: PlannedJob, unknowns: Unknowns, draw: NDArray[np.intp], rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Cost of one job for each place of `draw`, and the found work within it."""
    n = draw.size
    fixed = planned.parts_cost_net + planned.follow_on_cost_net
    once, again = (_labour(planned, unknowns, draw, rng) + fixed for _ in range(2))
    found = sizes_drawn(unknowns.found_sizes, np.full(n, planned.found_size_net), rng)
    found *= rng.random(n) < unknowns.found_chance[draw]
    comeback = sizes_drawn(unknowns.comeback_sizes, again, rng)
    comeback *= rng.random(n) < unknowns.comeback_chance[draw]
    other = sizes_drawn(unknowns.other_sizes, np.full(n, planned.other_cost_net), rng)
    if planned.cancelled_share:
        called_off = rng.geometric(1 - planned.cancelled_share, size=n) - 1
        other = other + called_off * planned.cancellation_cost_net
    return once + other + found + comeback, found


def _labour(
    planned: PlannedJob, unknowns: Unknowns, draw: NDArray[np.intp], rng: np.random.Generator
) -> Floats:
    log_hours = rng.normal(unknowns.log_mean[draw], unknowns.log_spread[draw])
    hours = np.exp(np.minimum(log_hours, np.log(planned.most_hours)))
    return np.asarray(hours * planned.labour_cost_per_hour)
