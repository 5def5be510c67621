"""How a workshop's hours compare with the book, learnt from its other jobs.

Three past jobs of one kind say little by themselves; that the workshop takes a tenth longer than
the book on all others says something of this one, too, and more so on those behind the same
access.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from wornby.decisions.job_hours import HoursPrior

Floats = NDArray[np.float64]

SHARED_BY_ACCESS = 0.5
"""How much of what sets jobs apart those behind the same access share."""
STEPS = 81
MOST_SPREADS = 8.0


@dataclass(frozen=True, eq=False, slots=True)
class OtherJob:
    """Another job of the workshop: log of hours over book of each past one, and its access.

    `weights` says how much each past one counts: one, or less for another version.
    """

    log_ratios: Floats
    weights: Floats
    access_groups: frozenset[str]


@dataclass(frozen=True, slots=True)
class PooledMean:
    """What other groups say of the mean of a new one: its centre and variance.

    `apart` is the mean of how far group means scatter.
    """

    centre: float
    variance: float
    apart: float


def pooled_mean(
    means: Floats, errors: Floats, *, alike: Floats, common_sd: float, apart: Floats, prior: Floats
) -> PooledMean:
    """The mean of a new group, given the means of others and their standard errors.

    The hierarchical normal model of Gelman et al., Bayesian Data Analysis, 5.4: each group's
    mean lies around a common one, which is known to `common_sd`, and groups stand apart by a
    spread on the grid `apart` with weights `prior` (summing to 1), over which it averages.
    `alike` correlates what sets the groups apart, the new one first.

    >>> known = pooled_mean(np.array([0.2, 0.2]), np.array([0.02, 0.02]), alike=np.eye(3),
    ...     common_sd=0.5, apart=np.array([0.05]), prior=np.array([1.0]))
    >>> round(known.centre, 3), round(known.variance**0.5, 3)
    (0.199, 0.063)
    """
    log_weight, centres, variances = np.log(prior), np.zeros(apart.size), np.zeros(apart.size)
    for at, spread in enumerate(apart):
        together = common_sd**2 + spread**2 * alike
        seen = together[1:, 1:] + np.diag(errors**2)
        pull = np.linalg.solve(seen, together[1:, 0])
        centres[at] = pull @ means
        variances[at] = together[0, 0] - pull @ together[1:, 0]
        _, log_size = np.linalg.slogdet(seen)
        log_weight[at] -= 0.5 * (log_size + means @ np.linalg.solve(seen, means))
    weight = np.exp(log_weight - logsumexp(log_weight))
    centre = float(weight @ centres)
    variance = float(weight @ (variances + (centres - centre) ** 2))
    return PooledMean(centre, variance, float(weight @ apart))


def workshop_hours(
    book: HoursPrior, access_groups: frozenset[str], others: Sequence[OtherJob]
) -> HoursPrior:
    """What the workshop's other jobs make of the book hours of this one.

    Half of the book's doubt is taken to be the workshop's own, the same in all jobs, and half to
    set each job apart; without other jobs the book therefore stands as it is. The scatter of one
    kind of job is the book's and that of the others, pooled; it keeps the weight of the book's.
    A past job that counts less than one does so in the likelihood (Ibrahim & Chen 2000).

    >>> book = HoursPrior(hours=6.0, weight_jobs=3, spread=0.2, spread_weight_jobs=3)
    >>> ratios = np.array([1.3, 1.2, 1.25, 1.3, 1.2])
    >>> slow = OtherJob(np.log(ratios), np.ones(5), frozenset({"dash out"}))
    >>> learnt = workshop_hours(book, frozenset({"gearbox out"}), [slow, slow, slow])
    >>> round(learnt.hours, 1), round(learnt.spread, 2)
    (7.0, 0.1)
    """
    told = [other for other in others if other.weights.sum() > 0]
    if not told:
        return book
    n = np.array([other.weights.sum() for other in told])
    means = np.array([np.average(o.log_ratios, weights=o.weights) for o in told])
    squares = sum(
        float(o.weights @ (o.log_ratios - m) ** 2) for o, m in zip(told, means, strict=True)
    )
    # the squares of weighted values around their mean are worth the variance so many times
    seen = float(sum(k - o.weights @ o.weights / k for o, k in zip(told, n, strict=True)))
    doubt = book.spread_weight_jobs
    spread = np.sqrt((doubt * book.spread**2 + squares) / (doubt + seen))
    half = book.spread / np.sqrt(2 * book.weight_jobs)
    apart = np.linspace(0.5, STEPS - 0.5, STEPS) / STEPS * MOST_SPREADS * half
    prior = np.exp(-0.5 * (apart / half) ** 2)
    known = pooled_mean(
        means,
        spread / np.sqrt(n),
        alike=_alike([access_groups, *(other.access_groups for other in told)]),
        common_sd=float(half),
        apart=apart,
        prior=prior / prior.sum(),
    )
    hours = book.hours * float(np.exp(known.centre))
    return HoursPrior(hours, float(spread**2) / known.variance, float(spread), doubt)


def _alike(access: Sequence[frozenset[str]]) -> Floats:
    """1 for a job and itself; part of it for two behind the same access."""
    shared = [[SHARED_BY_ACCESS * bool(a & b) for b in access] for a in access]
    return np.where(np.eye(len(access)) > 0, 1.0, np.array(shared, dtype=np.float64))
