"""How often, and for how much, a workshop's jobs turn up found work, learnt from its other jobs.

Five past jobs of one kind say little of so rare a thing; that the workshop's other jobs turn it up
once in ten says something of this one, too, and less the more those differ among themselves.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaln, logsumexp

from wornby.decisions.job_unknowns import Sizes

Floats = NDArray[np.float64]

CHANCES, SPREADS = 400, 40
"""Steps of the grid over the usual chance and over how far jobs lie apart."""
OTHERS_COUNT_AS = 1.0
"""All sizes found on other jobs together count as one found on this job."""


@dataclass(frozen=True, eq=False, slots=True)
class FoundElsewhere:
    """Found work of another job: how many of its past jobs had some and had none, and sizes."""

    found: float
    unfound: float
    sizes: Sizes


@dataclass(frozen=True, eq=False, slots=True)
class FoundPrior:
    """What is thought of a job's found work before its own past jobs are looked at.

    Its chance is known as well as by `found` jobs with found work and `unfound` without, a beta
    distribution. `sizes` are those of other jobs and how much each counts; none: none known.
    """

    found: float
    unfound: float
    sizes: Sizes


NOTHING_KNOWN = FoundPrior(0.5, 0.5, (np.zeros(0), np.zeros(0)))
"""Jeffreys' prior for a chance, and no sizes."""


def workshop_found(others: Sequence[FoundElsewhere]) -> FoundPrior:
    """What the workshop's other jobs say of found work on one that has no past yet.

    The hierarchical beta-binomial of Gelman et al., Bayesian Data Analysis, 5.3: each job's chance
    is drawn from a beta with mean m and weight k, with their prior flat in m and in k to the power
    -1/2, here for k of 1 or more (Jeffreys' prior is m = 1/2 with k = 1). It is summed on a grid,
    and told as the beta of the same mean and variance. Sizes are those seen on other jobs, all
    together worth one of this job's own (the predictive of a Dirichlet process, Ferguson 1973).
    Without other jobs nothing is known: Jeffreys' prior.

    >>> none = np.zeros(0), np.zeros(0)
    >>> known = workshop_found([FoundElsewhere(2, 18, none), FoundElsewhere(3, 27, none)])
    >>> round(known.found / (known.found + known.unfound), 3), round(known.found + known.unfound, 1)
    (0.185, 3.1)
    """
    told = [other for other in others if other.found + other.unfound > 0]
    if not told:
        return NOTHING_KNOWN
    centre, variance = _chance(told)
    worth = centre * (1 - centre) / variance - 1
    return FoundPrior(worth * centre, worth * (1 - centre), _together([o.sizes for o in told]))


def _chance(told: Sequence[FoundElsewhere]) -> tuple[float, float]:
    """Mean and variance of the chance on a job without a past."""
    m = ((np.arange(CHANCES) + 0.5) / CHANCES)[:, None]
    k = ((np.arange(SPREADS) + 0.5) / SPREADS) ** -2.0
    a, b = m * k, (1 - m) * k
    log_weight = sum(betaln(a + o.found, b + o.unfound) - betaln(a, b) for o in told)
    weight = np.exp(log_weight - logsumexp(log_weight))
    centre = float((weight * m).sum())
    spread = m * (1 - m) / (k + 1) + (m - centre) ** 2
    return centre, float((weight * spread).sum())


def _together(sizes: Sequence[Sizes]) -> Sizes:
    """All sizes, sharing out what they count together."""
    costs, weights = (np.concatenate([one[i] for one in sizes]) for i in (0, 1))
    return costs, weights * (OTHERS_COUNT_AS / weights.sum() if weights.size else 1.0)
