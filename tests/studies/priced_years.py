"""Whether a year at the price that wornby advises loses money as often as was wanted.

Each workshop has a truth of its own: its usual hours lie around the book's (standard deviation
of the log 0.12), its jobs' hours around those (0.2); found work has a chance drawn from a Beta(1,
6) and sizes lognormal around the stated one (0.4); parts renewed live by the world's own Weibull
in the job's grade, and one that fails within the warranty costs the job again; jobs come at a true
rate, 3 to 12 a year alike likely, and are called off as often as workshop.toml says. None of it
is drawn from the priors of the advice. The workshop's other candidates have truths of their own,
drawn likewise and alike in nothing else.

The advice sees so many past jobs of this candidate and of each other one (or of this one alone,
in a workshop that does nothing else), how many came in three years, and how long parts have lasted:
200 originals, by which a genuine part is judged, or 60 parts of another grade. `fixed_price` then
says a price, and the workshop lives years at it: jobs Poisson at its true rate, each costed by
its truth. A year without a job loses nothing.

Under an aim for the year's risk alone (no margin, any risk on a job) the loss should come as
often as wanted. Under the demo's own aim the margin and the risk of a job ask for more, and the
year's risk is an upper bound; there only jobs whose verdict is an offer are lived.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray
from told_records import demo_catalogue

from wornby.curves.few_failures import weibull_posterior
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs_of_jobs import PAST_JOBS, PlannedJob, comeback_chances
from wornby.decisions.price_advice import FixedPriceAdvice, VerdictThresholds, fixed_price
from wornby.decisions.price_question import jobs_next_year, planned_job, price_rules_of
from wornby.decisions.prices import PriceAim
from wornby.decisions.stated_costs import money_of
from wornby.demo.fleet import renewed_life
from wornby.demo.parameters import GRADES, TRUE_LIVES
from wornby.histories.counts import Counts
from wornby.records.catalogue import CandidateJob
from wornby.reports.workshop import RENEWAL_GRADE

Floats = NDArray[np.float64]

PAST: tuple[tuple[int, bool], ...] = ((5, True), (20, True), (60, True), (5, False))
"""How many past jobs there are, and whether the workshop has done others, too."""
WANTED = (0.05, 0.10, 0.20)
OWN_AIM = "the demo's own aim"
N_DRAWS, YEARS_LIVED, YEARS_SEEN, YEARS_FOLLOWED = 4000, 4, 3, 8.0
ORIGINALS, RENEWED = 200, 60
HOURS_OFF, HOURS_SPREAD, SIZE_SPREAD, OTHER_NET = 0.12, 0.2, 0.4, 15.0
MILES_PER_YEAR = 8_000.0
NEVER_REFUSED = VerdictThresholds(
    fewest_past_jobs=0, fewest_jobs_next_year=0, most_loading_share=np.inf
)


@dataclass(frozen=True, eq=False, slots=True)
class JobTruth:
    """What is true of one job at one workshop; `planned` has what workshop.toml states."""

    planned: PlannedJob
    usual_hours: float
    found_chance: float
    jobs_per_year: float
    lives: tuple[WeibullDraws, ...]

    def hours(self, n: int, rng: np.random.Generator) -> Floats:
        """Hours of n jobs; past the most, work stops and the customer is asked."""
        drawn = self.usual_hours * np.exp(HOURS_SPREAD * rng.standard_normal(n))
        return np.minimum(drawn, self.planned.most_hours)

    def found(self, n: int, rng: np.random.Generator) -> Floats:
        """Found work of n jobs, 0 where there is none."""
        size = self.planned.found_size_net * np.exp(SIZE_SPREAD * rng.standard_normal(n))
        return size * (rng.random(n) < self.found_chance)

    def again(self, n: int, rng: np.random.Generator) -> Floats:
        """What comebacks of n jobs cost, 0 where there is none."""
        chance = comeback_chances(self.lives, warranty_months=self.planned.warranty_months)
        once = self.hours(n, rng) * self.planned.labour_cost_per_hour + self.fixed
        return once * (rng.random(n) < chance)

    @property
    def fixed(self) -> float:
        """Parts and follow-on work of one job."""
        return self.planned.parts_cost_net + self.planned.follow_on_cost_net

    def costs(self, n: int, rng: np.random.Generator, *, with_found: bool) -> Floats:
        """What n jobs cost the workshop."""
        labour = self.hours(n, rng) * self.planned.labour_cost_per_hour
        found = self.found(n, rng) if with_found else 0.0
        called_off = rng.geometric(1 - self.planned.cancelled_share, n) - 1
        lost = called_off * self.planned.cancellation_cost_net
        return labour + self.fixed + OTHER_NET + found + lost + self.again(n, rng)


def job_truth(job: CandidateJob, rng: np.random.Generator) -> JobTruth:
    """Draw the truth of a job at one workshop."""
    planned = planned_job(demo_catalogue(), job)
    return JobTruth(
        planned=planned,
        usual_hours=planned.book_hours * float(np.exp(HOURS_OFF * rng.standard_normal())),
        found_chance=float(rng.beta(1, 6)),
        jobs_per_year=float(rng.uniform(3, 12)),
        lives=tuple(true_lives(job)),
    )


def true_lives(job: CandidateJob) -> list[WeibullDraws]:
    """The Weibull, in years, of the part fitted in each place."""
    lives = []
    for name in job.renews:
        component = demo_catalogue().component(name)
        shape, scale = renewed_life(TRUE_LIVES[name], GRADES[job.grade])
        scale /= MILES_PER_YEAR if component.scale == "distance" else 1.0
        life = WeibullDraws(np.array([shape]), np.array([scale]), "years")
        lives += [life] * max(len(component.positions), 1)
    return lives


def recorded(truth: JobTruth, n: int, rng: np.random.Generator) -> pl.DataFrame:
    """So many past jobs as the records have them."""
    found, again = truth.found(n, rng), truth.again(n, rng)
    table = pl.DataFrame(
        {
            "job": [f"{truth.planned.name} {i}" for i in range(n)],
            "version": ["short"] * n,
            "labour_hours": truth.hours(n, rng),
            "parts_cost_net": [truth.planned.parts_cost_net] * n,
            "other_cost_net": [OTHER_NET] * n,
            "found_cost_net": found,
            "comeback_cost_net": again,
        }
    )
    none = {
        name: pl.col(name).replace(0.0, None) for name in ("found_cost_net", "comeback_cost_net")
    }
    return PAST_JOBS.shape(table.with_columns(**none))


def learned_lives(truth: JobTruth, grade: str, rng: np.random.Generator) -> list[WeibullDraws]:
    """What the records leave open of the life of the part in each place.

    A genuine part is taken to live as the originals do, of which many were watched; of another
    grade those fitted were watched, from new and fewer.
    """
    drawn = {}
    for life in truth.lives:
        if id(life) not in drawn:
            counts = watched_lives(life, rng, of_originals=grade == RENEWAL_GRADE)
            drawn[id(life)] = weibull_posterior(counts, prior=CAR_COMPONENT).draws(rng, 2000)
    return [drawn[id(life)] for life in truth.lives]


def watched_lives(life: WeibullDraws, rng: np.random.Generator, *, of_originals: bool) -> Counts:
    """Lives as the workshop saw them: originals from when they came, renewed ones from new."""
    n, shape, scale = ORIGINALS if of_originals else RENEWED, life.shape[0], life.scale[0]
    entry = rng.uniform(0, 10, n) if of_originals else np.zeros(n)
    stop = entry + rng.uniform(0.1, YEARS_FOLLOWED, n)
    lasted = scale * ((entry / scale) ** shape + rng.standard_exponential(n)) ** (1 / shape)
    end = np.minimum(lasted, stop)
    upper = np.where(lasted > stop, np.inf, end)
    table = pl.DataFrame({"entry": entry, "lower": end, "upper": upper, "count": 1.0})
    return Counts(table, unit="years", what="part", rule="as watched")


def year_losses(
    n_past: int, rng: np.random.Generator, *, others: bool = True
) -> list[dict[str, Any]]:
    """One workshop under each aim: the risk that the advice told, and the years that lost."""
    catalogue = demo_catalogue()
    job = catalogue.fixed_price_jobs[int(rng.integers(len(catalogue.fixed_price_jobs)))]
    truth = job_truth(job, rng)
    seen = int(rng.poisson(YEARS_SEEN * truth.jobs_per_year))
    past = recorded(truth, n_past, rng)
    chances = comeback_chances(
        learned_lives(truth, job.grade, rng), warranty_months=job.warranty_months
    )
    done = {job.name: past}
    if others:
        done |= {
            other.name: recorded(job_truth(other, rng), n_past, rng)
            for other in catalogue.fixed_price_jobs
            if other.name != job.name
        }
    planned = planned_job(catalogue, job, done=done)
    demand = jobs_next_year(seen, years=YEARS_SEEN, n=N_DRAWS, rng=rng)
    rows = []
    for name, wanted, aim, thresholds in aims():
        advice = fixed_price(
            planned,
            past,
            comeback_chances=chances,
            jobs_next_year=demand,
            aim=aim,
            thresholds=thresholds,
            prices=[],
            n_draws=N_DRAWS,
            rng=rng,
        )
        if advice.verdict in ("offer", "offer with stated exclusions"):
            rows.append({"aim": name, "wanted": wanted} | lived(advice, truth, rng))
    return rows


def aims() -> list[tuple[str, float, PriceAim, VerdictThresholds]]:
    """The year's risk alone at each level, and the demo's own aim with its own thresholds."""
    money, rules = money_of(demo_catalogue()), price_rules_of(demo_catalogue())
    own = VerdictThresholds(
        rules.fewest_past_jobs, rules.fewest_jobs_next_year, rules.most_loading_share
    )
    alone = [
        (f"a year in {1 / risk:.0f} may lose", risk, PriceAim(0.0, 0.999, risk), NEVER_REFUSED)
        for risk in WANTED
    ]
    whole = PriceAim(money.target_margin, money.job_loss_risk, money.year_loss_risk)
    return [*alone, (OWN_AIM, money.year_loss_risk, whole, own)]


def lived(advice: FixedPriceAdvice, truth: JobTruth, rng: np.random.Generator) -> dict[str, Any]:
    """Years at the advised price: the share that lost, and the share that the advice told."""
    covers = advice.verdict == "offer"
    drawn = advice.costs.year if covers else advice.costs.year_without_found
    told = float((advice.price_net * advice.costs.year_jobs < drawn).mean())
    lost = [
        truth.costs(n, rng, with_found=covers).sum() > n * advice.price_net
        for n in rng.poisson(truth.jobs_per_year, size=YEARS_LIVED)
    ]
    return {"told": told, "lost": float(np.mean(lost))}
