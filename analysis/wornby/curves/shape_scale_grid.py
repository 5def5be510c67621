"""The exact Weibull posterior on a grid that seeks out where the mass is.

Rows are log shapes. In each row, columns are logarithms of the number of failures expected
among the watched lives, exposure(shape) x scale^-shape, where exposure sums age^shape -
entry^shape up to the age to which each was known alive; in that coordinate the rows look
alike, and a row without bounded failures is a gamma distribution.
"""

from dataclasses import dataclass

import numpy as np

from wornby.curves.likelihood import LARGEST_EXPONENT
from wornby.curves.log_ages import Array, Evidence, merged
from wornby.curves.shape_prior import ShapePrior
from wornby.errors import EstimateError

COARSE, FINE = (41, 61), (121, 201)
N_ZOOMS = 5
WIDEST = 8.0  # standard deviations of the shape's prior
EXPECTED = np.log(1e-6), np.log(1e9)
NEGLIGIBLE = 20.0  # logarithm of how far below the peak mass is left out


@dataclass(frozen=True, eq=False, slots=True)
class Grid:
    """Log shapes (r,), log expected failures (r, c), log exposures (r,), log posterior (r, c)."""

    log_shape: Array
    log_expected: Array
    log_exposure: Array
    log_mass: Array


def exposures(known: Evidence, shape: Array) -> tuple[Array, Array]:
    """Log exposure while known alive, by shape, and each bounded failure's own as a share of it."""
    begun = ~known.from_new
    ages, weight = merged(
        np.concatenate([known.alive, known.lower[begun]]),
        np.concatenate([known.alive_weight[0], known.bounded_weight[0, begun]]),
    )
    if not ages.size:
        raise EstimateError("no life was seen alive for any time: nothing bounds the scale")
    power, longest = shape[:, None], ages.max()
    alive = (np.exp(power * (ages - longest)) * weight).sum(-1)
    lower = np.where(known.from_new, -np.inf, known.lower)
    ended, sound = (power * (bound - longest) for bound in (known.upper, lower))
    between = np.exp(np.minimum(ended, LARGEST_EXPONENT)) * -np.expm1(sound - ended)
    return np.log(alive) + shape * longest, between / alive[:, None]


def log_posterior(
    known: Evidence, prior: ShapePrior, *, log_shape: Array, log_expected: Array
) -> tuple[Array, Array]:
    """Log posterior at each node for each unit of both coordinates, and log exposures.

    Sums of log ages that do not move with the parameters are left out.
    """
    shape = np.exp(log_shape)
    log_exposure, between = exposures(known, shape)
    expected = np.exp(log_expected)
    n_failed, sum_log = known.failed_weight.sum(), (known.failed_weight * known.failed).sum()
    value = n_failed * (log_shape + sum_log / (n_failed or 1.0) * shape - log_exposure)[:, None]
    value = value + n_failed * log_expected - expected
    for share, weight in zip(between.T, known.bounded_weight[0], strict=True):
        with np.errstate(divide="ignore"):
            value = value + weight * np.log(-np.expm1(-expected * share[:, None]))
    given = prior.log_density(log_shape)[:, None] + prior.scale_power * log_expected
    return value + given, log_exposure


def extent(log_mass: Array, places: Array) -> tuple[Array, Array]:
    """Ends of where each row is not negligible, one node wider."""
    matters = log_mass > log_mass.max(-1, keepdims=True) - NEGLIGIBLE
    last = matters.shape[-1] - 1
    first_node = np.maximum(matters.argmax(-1) - 1, 0)
    last_node = np.minimum(last - matters[..., ::-1].argmax(-1) + 1, last)
    rows = np.arange(len(places))
    return places[rows, first_node], places[rows, last_node]


def filled(
    known: Evidence, prior: ShapePrior, *, low: float, high: float, size: tuple[int, int]
) -> Grid:
    """A grid between two log shapes, each row zoomed to its own mass.

    Rows are staggered against one another, so that quantiles do not go in steps.
    """
    rows, columns = size
    log_shape = np.linspace(low, high, rows)
    ends = np.full(rows, EXPECTED[0]), np.full(rows, EXPECTED[1])
    for _ in range(N_ZOOMS):
        log_expected = np.linspace(*ends, COARSE[1], axis=-1)
        log_mass, _ = log_posterior(known, prior, log_shape=log_shape, log_expected=log_expected)
        ends = extent(log_mass, log_expected)
    width = (ends[1] - ends[0])[:, None] / (columns - 1)
    stagger = (np.sqrt(5) - 1) / 2 * np.arange(rows)[:, None] % 1 - 0.5
    log_expected = ends[0][:, None] + width * (np.arange(columns) + stagger)
    log_mass, log_exposure = log_posterior(
        known, prior, log_shape=log_shape, log_expected=log_expected
    )
    return Grid(log_shape, log_expected, log_exposure, log_mass + np.log(width))


def posterior_grid(known: Evidence, prior: ShapePrior) -> Grid:
    """Zoom in on the log shapes, and in each on the expected failures, that are not negligible."""
    middle, reach = np.log(prior.median), WIDEST * prior.log_std_dev
    low, high = middle - reach, middle + reach
    for _ in range(N_ZOOMS):
        grid = filled(known, prior, low=float(low), high=float(high), size=COARSE)
        rows = np.logaddexp.reduce(grid.log_mass, axis=-1)
        (low,), (high,) = extent(rows[None, :], grid.log_shape[None, :])
    return filled(known, prior, low=float(low), high=float(high), size=FINE)
