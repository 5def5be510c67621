"""A survey weighed again and again as if chance had sent other answers, raked each time.

What the answers then say varies as it would from one survey of the same club to the next, and
the weights' own part in that is in it: the intervals are those of the design, not of a model of
lives. Each answer keeps a weight above nought, so that raking settles and curves can be fitted
in every replicate, whatever the survey's size (a generalised bootstrap: Beaumont & Patak 2012).
"""

import numpy as np

from wornby.errors import EstimateError
from wornby.survey.weighted import WeightedSurvey
from wornby.survey.weighting import MET, MOST_SWEEPS, Array

N_REPLICATES = 200
SELDOM = (5 - np.sqrt(5)) / 10
OFTEN_COUNTS, SELDOM_COUNTS = (3 - np.sqrt(5)) / 2, (3 + np.sqrt(5)) / 2
"""In a replicate an answer counts 0.38 times or, more seldom, 2.62 times (Mammen 1993): with mean,
variance and skewness 1, as are those of how often it would be drawn. Exponential weights, whose
skewness is 2, gave standard errors 4 % too small once raked."""


def replicate_weights(
    weighted: WeightedSurvey,
    *,
    rng: np.random.Generator,
    n: int,
) -> Array:
    """Weights of each answer (n + 1, answers): first those of the survey, then n replicates.

    ValueError: fewer than 2 replicates.
    """
    return reraked(weighted, drawn_counts(weighted, rng=rng, n=n))


def drawn_counts(weighted: WeightedSurvey, *, rng: np.random.Generator, n: int) -> Array:
    """How often each answer counts (n + 1, answers): once in the survey, then by replicate.

    ValueError: fewer than 2 replicates.
    """
    if n < 2:
        raise ValueError(f"{n} replicates: wanted at least 2")
    answers = weighted.answers.height
    seldom = rng.random((n, answers)) < SELDOM
    return np.vstack([np.ones(answers), np.where(seldom, SELDOM_COUNTS, OFTEN_COUNTS)])


def reraked(weighted: WeightedSurvey, factors: Array) -> Array:
    """Weights, 1 on average, that meet the survey's totals from each row of factors.

    `factors` (rows, answers), above 0, is what answers count as before. EstimateError where
    raking does not settle; ValueError where a factor is not above 0.
    """
    if factors.shape[1:] != (weighted.answers.height,) or not (factors > 0).all():
        raise ValueError("factors: wanted one above 0 for each answer")
    answers = weighted.answers
    places = [
        np.unique(answers[name].to_numpy(), return_inverse=True)[1]
        for name in ("weight_group", "version_group")
    ]
    shape = tuple(int(place.max()) + 1 for place in places)
    cell = places[0] * shape[1] + places[1]
    n_cells = shape[0] * shape[1]
    seeds = np.stack([np.bincount(cell, row, n_cells).astype(np.float64) for row in factors])
    known = weighted.raked.table
    seeds = seeds.reshape(-1, *shape)
    scaled = _settled(seeds, known.sum(axis=1), known.sum(axis=0)).reshape(-1, n_cells)
    weights = factors * scaled[:, cell]
    return np.asarray(weights * answers.height / weights.sum(axis=1, keepdims=True))


def _settled(seeds: Array, row_totals: Array, column_totals: Array) -> Array:
    """What the cells of each table are multiplied by to meet the totals, all tables at once."""
    by_row, by_column = (total / total.sum() for total in (row_totals, column_totals))
    first = np.ones((len(seeds), by_row.size, 1))
    second = np.ones((len(seeds), 1, by_column.size))
    for _ in range(MOST_SWEEPS):
        first = by_row[None, :, None] / (seeds * second).sum(axis=2, keepdims=True)
        second = by_column[None, None, :] / (seeds * first).sum(axis=1, keepdims=True)
        found = (seeds * first * second).sum(axis=2)
        if np.abs(found - by_row).max() <= MET:
            return np.asarray(first * second)
    raise EstimateError(
        f"raking did not settle in {MOST_SWEEPS:,} rounds: too many of the cells are empty"
    )
