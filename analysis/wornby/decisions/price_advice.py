"""Whether to offer a job at a fixed price, and for how much."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Literal

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy import stats

from wornby.curves.uncertainty import Estimate
from wornby.decisions.costs_of_jobs import (
    JobCosts,
    PlannedJob,
    found_counts,
    job_costs,
    job_weights,
)
from wornby.decisions.found_elsewhere import NOTHING_KNOWN, FoundPrior
from wornby.decisions.job_hours import lognormal_mean
from wornby.decisions.prices import AimedPrice, PriceAim, price_for, price_menu

Verdict = Literal["offer", "offer with stated exclusions", "quote each time", "too few records"]


@dataclass(frozen=True, slots=True)
class VerdictThresholds:
    """Where the verdict turns.

    Fewer past jobs than `fewest_past_jobs` are too few; a job expected less often than
    `fewest_jobs_next_year` is not worth a menu price; a price that the risks raise by more than
    `most_loading_share` above the margin's own price is not a fair one.
    """

    fewest_past_jobs: float
    fewest_jobs_next_year: float
    most_loading_share: float


@dataclass(frozen=True, slots=True)
class Facts:
    """What the verdict looks at."""

    past_jobs: float
    jobs_next_year: float
    loading_share: float
    loading_without_found_share: float


@dataclass(frozen=True, slots=True)
class Rule:
    """A verdict, when it is given, and its reason in one sentence."""

    verdict: Verdict
    applies: Callable[[Facts, VerdictThresholds], bool]
    reason: str


NOTHING_ADDED = 0.005
PARTS_DIFFER = 0.25
"""By so much of what past jobs used, parts are worth a look."""

RULES = (
    Rule(
        "too few records",
        lambda facts, at: facts.past_jobs < at.fewest_past_jobs,
        "the records hold {past_jobs:.3g} such jobs, fewer than {fewest_past_jobs:.3g}",
    ),
    Rule(
        "quote each time",
        lambda facts, at: facts.jobs_next_year < at.fewest_jobs_next_year,
        "{jobs_next_year:.1f} such jobs are expected next year, fewer than "
        "{fewest_jobs_next_year:.3g}",
    ),
    Rule(
        "offer",
        lambda facts, _: facts.loading_share < NOTHING_ADDED,
        "the price that earns the margin keeps to the wanted risks, too",
    ),
    Rule(
        "offer",
        lambda facts, at: facts.loading_share <= at.most_loading_share,
        "keeping to the wanted risks adds {loading_share:.0%} to the price, at most "
        "{most_loading_share:.0%} is fair",
    ),
    Rule(
        "offer with stated exclusions",
        lambda facts, at: facts.loading_without_found_share <= at.most_loading_share,
        "keeping to the wanted risks adds {loading_share:.0%} to the price, but only "
        "{loading_without_found_share:.0%} when found work is charged by itself",
    ),
    Rule(
        "quote each time",
        lambda facts, at: facts.loading_without_found_share > at.most_loading_share,
        "keeping to the wanted risks adds {loading_share:.0%} to the price, more than "
        "{most_loading_share:.0%}, and {loading_without_found_share:.0%} even without found work",
    ),
)


@dataclass(frozen=True, eq=False, slots=True)
class FixedPriceAdvice:
    """The verdict on a fixed price, the price that meets the aim, and what others earn.

    `price` covers found work, `price_without_found` leaves it to be charged by itself. `table`
    is the price menu (see `price_menu`), the advised price among its rows.
    """

    verdict: Verdict
    reason: str
    price: AimedPrice
    price_without_found: AimedPrice
    table: pl.DataFrame
    costs: JobCosts
    facts: Facts
    planned: PlannedJob
    past: pl.DataFrame
    comeback_chances: NDArray[np.float64]
    aim: PriceAim
    thresholds: VerdictThresholds

    @property
    def price_net(self) -> float:
        """The price to offer: without found work where the verdict excludes it."""
        excluded = self.verdict == "offer with stated exclusions"
        return (self.price_without_found if excluded else self.price).price_net

    @property
    def mean_hours(self) -> Estimate:
        """Mean hours of the past jobs by themselves, at 90 %."""
        return lognormal_mean(self.past["labour_hours"], confidence=0.90, unit="labour_hours")

    @property
    def found_chance(self) -> Estimate:
        """Chance that the next job turns up work nobody could see, at 90 %."""
        return job_found_chance(self.planned, self.past, confidence=0.90)

    @property
    def comeback_chance(self) -> Estimate:
        """Chance that a renewed part fails within the warranty, at 90 %."""
        lower, upper = np.quantile(self.comeback_chances, [0.05, 0.95])
        return Estimate(
            float(self.comeback_chances.mean()), float(lower), float(upper), 0.90, "share"
        )

    @property
    def parts_then_net(self) -> float | None:
        """What parts of the past jobs cost on average, if today's differ by a quarter or more."""
        then = self.past["parts_cost_net"].drop_nulls().mean()
        if not isinstance(then, float) or not self.planned.parts_cost_net or not then:
            return None
        change = self.planned.parts_cost_net / then - 1
        return then if abs(change) >= PARTS_DIFFER else None


def fixed_price(
    planned: PlannedJob,
    past: pl.DataFrame,
    *,
    comeback_chances: NDArray[np.float64],
    jobs_next_year: NDArray[np.int64],
    aim: PriceAim,
    thresholds: VerdictThresholds,
    prices: Sequence[float],
    n_draws: int,
    rng: np.random.Generator,
) -> FixedPriceAdvice:
    """The price that earns the wanted margin at the wanted risks, and whether to offer it.

    `past` has the shape of `costs_of_jobs.PAST_JOBS`, of this kind of job only. `jobs_next_year`
    are draws of next year's number of jobs (`ExpectedFailures.draws`). `prices` are shown in
    the menu beside the advised one.
    """
    costs = job_costs(
        planned,
        past,
        comeback_chances=comeback_chances,
        jobs_next_year=jobs_next_year,
        n_draws=n_draws,
        rng=rng,
    )
    price = price_for(costs.job, costs.year, costs.year_jobs, aim=aim)
    bare = price_for(costs.job_without_found, costs.year_without_found, costs.year_jobs, aim=aim)
    past_jobs, expected = float(job_weights(planned, past).sum()), float(np.mean(jobs_next_year))
    facts = Facts(past_jobs, expected, price.loading_share, bare.loading_share)
    verdict, reason = verdict_on(facts, thresholds)
    return FixedPriceAdvice(
        verdict=verdict,
        reason=reason,
        price=price,
        price_without_found=bare,
        table=price_menu(costs, [*prices, price.price_net, bare.price_net]),
        costs=costs,
        facts=facts,
        planned=planned,
        past=past,
        comeback_chances=comeback_chances,
        aim=aim,
        thresholds=thresholds,
    )


def verdict_on(facts: Facts, thresholds: VerdictThresholds) -> tuple[Verdict, str]:
    """The first rule that applies: its verdict, and its reason with the numbers in it."""
    rule = next(rule for rule in RULES if rule.applies(facts, thresholds))
    return rule.verdict, rule.reason.format(**asdict(facts), **asdict(thresholds))


def job_found_chance(planned: PlannedJob, past: pl.DataFrame, *, confidence: float) -> Estimate:
    """The chance that the next job turns up found work, from its past and the other jobs'."""
    found, unfound = found_counts(planned, past)
    return found_chance(found, unfound, prior=planned.usual_found, confidence=confidence)


def found_chance(
    found: float, unfound: float, *, confidence: float, prior: FoundPrior = NOTHING_KNOWN
) -> Estimate:
    """The chance that the next job turns up work nobody could see (Beta, by default Jeffreys').

    Never seen, it has no lower limit and the whole doubt goes into the upper one.
    """
    posterior = stats.beta(prior.found + found, prior.unfound + unfound)
    outside = 1 - confidence
    if found == 0:
        upper = float(posterior.ppf(1 - outside))
        note = f"never seen in {unfound:.3g} jobs: the upper limit is what counts"
        return Estimate(float(posterior.mean()), 0.0, upper, confidence, "share", note)
    lower, upper = (float(posterior.ppf(p)) for p in (outside / 2, 1 - outside / 2))
    return Estimate(float(posterior.mean()), lower, upper, confidence, "share")
