"""The exact Weibull posterior on a grid that seeks out where the mass is.

Rows are log shapes. In each row, columns are logarithms of the number of failures expected
among the watched lives, exposure(shape) x scale^-shape, where exposure sums age^shape -
entry^shape up to the age to which each was known alive; in that coordinate the rows look
alike, and a row without bounded failures is a gamma distribution. Ages are logarithms measured
from the centre of the evidence.
"""

from dataclasses import dataclass

import numpy as np

from wornby.curves.likelihood import LARGEST_EXPONENT
from wornby.curves.log_ages import Array, Evidence, merged
from wornby.curves.shape_prior import ShapePrior
from wornby.errors import EstimateError

COARSE, FINE = (41, 61), (121, 201)
N_ZOOMS = 5
LOWEST, HIGHEST = -8.0, (8.0, 16.0)
"""Standard deviations of the shape's prior; the second where lives outweigh it at the first."""
EXPECTED = np.log(1e-6), np.log(1e9)
NEGLIGIBLE = 20.0  # logarithm of how far below the peak mass is left out
RESIDUE = 1e-12  # share of all weights that only rounding leaves when entries and exits cancel


@dataclass(frozen=True, eq=False, slots=True)
class Grid:
    """Log shapes (r,), log expected failures (r, c), log exposures (r,), log posterior (r, c)."""

    log_shape: Array
    log_expected: Array
    log_exposure: Array
    log_mass: Array


@dataclass(frozen=True, eq=False, slots=True)
class Rows:
    """What the lives say at each log shape (r,), whatever the scale.

    `log_exposure` (r,) is while known alive; `between` (r, m) is each bounded failure's own as
    a share of it.
    """

    log_shape: Array
    log_exposure: Array
    between: Array


def exposures(known: Evidence, log_shape: Array) -> Rows:
    """Exposures at each log shape (r,); EstimateError where no life was seen alive for any time.

    Summed over the stretches between distinct ages, each by the number at risk: a sum of entries
    and exits would cancel to a residue of rounding, even a negative one.
    """
    begun = ~known.from_new
    ages, weight = merged(
        np.concatenate([known.alive, known.lower[begun]]),
        np.concatenate([known.alive_weight[0], known.bounded_weight[0, begun]]),
    )
    at_risk = weight[::-1].cumsum()[::-1]
    watched = at_risk > RESIDUE * np.abs(weight).sum()
    if not watched.any():
        raise EstimateError("no life was seen alive for any time: nothing bounds the scale")
    shape = np.exp(log_shape)
    power, longest = shape[:, None], ages[watched].max()
    start = np.append(-np.inf, ages[:-1])[watched]
    end, number = ages[watched], at_risk[watched]
    alive = (np.exp(power * (end - longest)) * -np.expm1(power * (start - end))) @ number
    lower = np.where(known.from_new, -np.inf, known.lower)
    ended, sound = (power * (bound - longest) for bound in (known.upper, lower))
    between = np.exp(np.minimum(ended, LARGEST_EXPONENT)) * -np.expm1(sound - ended)
    return Rows(log_shape, np.log(alive) + shape * longest, between / alive[:, None])


def log_posterior(known: Evidence, prior: ShapePrior, rows: Rows, *, log_expected: Array) -> Array:
    """Log posterior (r, c) at each node for each unit of both coordinates.

    Sums of log ages that do not move with the parameters are left out.
    """
    shape, expected = np.exp(rows.log_shape), np.exp(log_expected)
    n_failed, sum_log = known.failed_weight.sum(), (known.failed_weight * known.failed).sum()
    steep = sum_log / (n_failed or 1.0) * shape
    value = n_failed * (rows.log_shape + steep - rows.log_exposure)[:, None]
    value = value + n_failed * log_expected - expected
    for share, weight in zip(rows.between.T, known.bounded_weight[0], strict=True):
        with np.errstate(divide="ignore"):
            value = value + weight * np.log(-np.expm1(-expected * share[:, None]))
    given = prior.log_density(rows.log_shape)[:, None] + prior.scale_power * log_expected
    return np.asarray(value + given)


def extent(log_mass: Array, places: Array) -> tuple[Array, Array]:
    """Ends (r,) of where each row of places (r, c) is not negligible, one node wider."""
    matters = log_mass > log_mass.max(-1, keepdims=True) - NEGLIGIBLE
    last = matters.shape[-1] - 1
    first_node = np.maximum(matters.argmax(-1) - 1, 0)
    last_node = np.minimum(last - matters[..., ::-1].argmax(-1) + 1, last)
    rows = np.arange(len(places))
    return places[rows, first_node], places[rows, last_node]


def filled(
    known: Evidence, prior: ShapePrior, *, low: float, high: float, size: tuple[int, int]
) -> Grid:
    """A grid of `size` between two log shapes, each row zoomed to its own mass.

    Rows are staggered against one another, so that quantiles do not go in steps. EstimateError
    where no life was seen alive for any time.
    """
    rows, columns = size
    told = exposures(known, np.linspace(low, high, rows))
    ends = np.full(rows, EXPECTED[0]), np.full(rows, EXPECTED[1])
    for _ in range(N_ZOOMS):
        log_expected = np.linspace(*ends, COARSE[1], axis=-1)
        ends = extent(log_posterior(known, prior, told, log_expected=log_expected), log_expected)
    width = (ends[1] - ends[0])[:, None] / (columns - 1)
    stagger = (np.sqrt(5) - 1) / 2 * np.arange(rows)[:, None] % 1 - 0.5
    log_expected = ends[0][:, None] + width * (np.arange(columns) + stagger)
    log_mass = log_posterior(known, prior, told, log_expected=log_expected)
    return Grid(told.log_shape, log_expected, told.log_exposure, log_mass + np.log(width))


def posterior_grid(known: Evidence, prior: ShapePrior) -> Grid:
    """Zoom in on the log shapes, and in each on the expected failures, that are not negligible.

    Shapes are sought as far as the prior reaches, and once more as far up where mass is left at
    that end. EstimateError where no life was seen alive for any time.
    """
    middle, spread = np.log(prior.median), prior.log_std_dev
    for highest in HIGHEST:
        low, high = middle + LOWEST * spread, middle + highest * spread
        end = high
        for _ in range(N_ZOOMS):
            grid = filled(known, prior, low=float(low), high=float(high), size=COARSE)
            rows = np.logaddexp.reduce(grid.log_mass, axis=-1)
            (low,), (high,) = extent(rows[None, :], grid.log_shape[None, :])
        if high < end:
            break
    return filled(known, prior, low=float(low), high=float(high), size=FINE)
