"""Draws from a posterior of few parameters: proposed around its mode, kept by their weights."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from wornby.errors import EstimateError

Floats = NDArray[np.float64]

DEGREES = 5.0
STEP = 0.02
FEWEST_EFFECTIVE = 100.0


def importance_draws(
    log_density: Callable[[Floats], float],
    mode: Floats,
    *,
    n_proposals: int,
    n: int,
    rng: np.random.Generator,
) -> Floats:
    """Draws, one row each, from a density known up to a factor (Rubin 1987, resampling).

    Proposals are from a t with 5 degrees of freedom whose spread is that of the density at its
    mode; each counts by density over proposal. EstimateError where fewer than 100 of them count.
    """
    spread = np.linalg.cholesky(_covariance(log_density, mode))
    z = rng.standard_normal((n_proposals, mode.size))
    stretched = z * np.sqrt(DEGREES / rng.chisquare(DEGREES, n_proposals))[:, None]
    proposed = mode + stretched @ spread.T
    log_proposal = -(DEGREES + mode.size) / 2 * np.log1p((stretched**2).sum(axis=1) / DEGREES)
    log_weight = np.array([log_density(at) for at in proposed]) - log_proposal
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    effective = 1 / float(weight @ weight)
    if effective < FEWEST_EFFECTIVE:
        raise EstimateError(
            f"only {effective:.0f} of {n_proposals} proposals count, wanted "
            f"{FEWEST_EFFECTIVE:.0f}: the records leave the parameters too open"
        )
    return np.asarray(proposed[rng.choice(n_proposals, size=n, p=weight)])


def _covariance(log_density: Callable[[Floats], float], mode: Floats) -> Floats:
    """Minus the inverse of the second differences at the mode, made positive where flat."""
    k = mode.size
    steps = STEP * np.eye(k)
    curved = np.empty((k, k))
    for i in range(k):
        for j in range(i + 1):
            ends = [
                sign_i * sign_j * log_density(mode + sign_i * steps[i] + sign_j * steps[j])
                for sign_i in (1, -1)
                for sign_j in (1, -1)
            ]
            curved[i, j] = curved[j, i] = -sum(ends) / (4 * STEP**2)
    values, vectors = np.linalg.eigh(curved)
    return np.asarray(vectors @ np.diag(1 / np.maximum(values, 1.0)) @ vectors.T)
