"""What more recorded jobs would be worth: how much narrower the answer, and in money a year.

Records not yet made are drawn from what is known now, each set of them is learnt from, and the
decision is taken anew (preposterior analysis; Raiffa & Schlaifer, Applied Statistical Decision
Theory, 1961, ch. 4 and 5). Learning is by weighting the draws at hand by how likely each makes
the new records. What a comeback and found work cost, once there, is taken as known.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, softmax, xlog1py, xlogy

from wornby.decisions.cost_makeup import mean_costs
from wornby.decisions.costs_of_jobs import JobCosts, PlannedJob
from wornby.decisions.job_unknowns import Unknowns
from wornby.decisions.prices import PriceAim

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ValueOfRecords:
    """What so many more records would change.

    The floor price would lie between `floor_lower_net` and `floor_upper_net`. The mean cost of a
    job is known to within `doubt_now_net` either way, and would be to within `doubt_then_net`,
    all at `confidence`. `value_net_per_year` is what deciding anew between the price asked and
    quoting each time would earn; `perfect_net_per_year` what knowing the mean cost would. With
    `changes_chance` the records would change that decision.
    """

    n_records: int
    confidence: float
    floor_now_net: float
    floor_lower_net: float
    floor_upper_net: float
    doubt_now_net: float
    doubt_then_net: float
    value_net_per_year: float
    perfect_net_per_year: float
    changes_chance: float
    keeps_price: bool


def value_of_records(
    planned: PlannedJob,
    costs: JobCosts,
    *,
    n_records: int,
    asked_net: float,
    aim: PriceAim,
    n_sets: int,
    confidence: float,
    rng: np.random.Generator,
) -> ValueOfRecords:
    """What `n_records` more recorded jobs of this kind would be worth, from `n_sets` of them.

    The decision that they inform: to ask `asked_net` of every job, or to quote each time and
    earn the aimed margin on what each then costs.
    """
    if n_records < 1 or n_sets < 100 or not asked_net > 0:
        raise ValueError(
            f"{planned.name}: {n_records} records, {n_sets} sets, price {asked_net}: wanted 1 or "
            "more, 100 or more, and a price above 0"
        )
    mean = mean_costs(planned, costs.unknowns)
    weights = learnt_weights(costs.unknowns, n_records=n_records, n_sets=n_sets, rng=rng)
    after = weights @ mean
    alike = np.full((1, mean.size), 1 / mean.size)
    floors = _floors(costs, after, weights, aim)
    jobs = float(costs.year_jobs.mean())
    gain, perfect = (jobs * (asked_net - m / (1 - aim.margin_share)) for m in (after, mean))
    keeps = bool(gain.mean() >= 0)
    reach = float(ndtri((1 + confidence) / 2))
    # what is left of the doubt, in the mean, is what the means after learning do not account for
    left = max(float(mean.var() - after.var()), 0.0)
    return ValueOfRecords(
        n_records=n_records,
        confidence=confidence,
        floor_now_net=float(_floors(costs, mean.mean(keepdims=True), alike, aim)[0]),
        floor_lower_net=float(np.quantile(floors, (1 - confidence) / 2)),
        floor_upper_net=float(np.quantile(floors, (1 + confidence) / 2)),
        doubt_now_net=reach * float(mean.std()),
        doubt_then_net=reach * left**0.5,
        value_net_per_year=_worth(gain),
        perfect_net_per_year=_worth(perfect),
        changes_chance=float(((gain >= 0) != keeps).mean()),
        keeps_price=keeps,
    )


def learnt_weights(
    unknowns: Unknowns, *, n_records: int, n_sets: int, rng: np.random.Generator
) -> Floats:
    """What each set of new records would make of each draw: rows of weights that sum to 1."""
    truth = rng.integers(unknowns.log_mean.size, size=n_sets)
    log_hours = rng.normal(
        unknowns.log_mean[truth], unknowns.log_spread[truth], size=(n_records, n_sets)
    )
    found = rng.binomial(n_records, unknowns.found_chance[truth])[:, None]
    centre, squares = log_hours.mean(axis=0)[:, None], n_records * log_hours.var(axis=0)[:, None]
    m, s, p = unknowns.log_mean, unknowns.log_spread, unknowns.found_chance
    log_likelihood = -n_records * np.log(s) - (squares + n_records * (centre - m) ** 2) / (2 * s**2)
    log_likelihood = log_likelihood + xlogy(found, p) + xlog1py(n_records - found, -p)
    return np.asarray(softmax(log_likelihood, axis=1))


def _floors(costs: JobCosts, means: Floats, weights: Floats, aim: PriceAim) -> Floats:
    """The floor price under each set of new records (see `prices.price_for`)."""
    each = np.zeros_like(costs.year)
    np.divide(costs.year, costs.year_jobs, out=each, where=costs.year_jobs > 0)
    risks = [(costs.job, aim.job_risk), (each, aim.year_risk)]
    bounds = [_weighted_quantile(c, np.argsort(c), weights, 1 - risk) for c, risk in risks]
    return np.asarray(np.max([means / (1 - aim.margin_share), *bounds], axis=0))


def _weighted_quantile(
    values: Floats, order: NDArray[np.intp], weights: Floats, share: float
) -> Floats:
    """The least value that so much of the weight lies at or below, for each row of weights."""
    reached = np.cumsum(weights[:, order], axis=1) >= share - 1e-12
    return np.asarray(values[order][reached.argmax(axis=1)])


def _worth(gains: Floats) -> float:
    """What choosing after learning earns over choosing now."""
    return float(np.maximum(gains, 0.0).mean() - max(float(gains.mean()), 0.0))
