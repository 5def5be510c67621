"""Weibull curves from few failures: the exact posterior under a stated prior for the shape."""

from dataclasses import dataclass

import numpy as np

from wornby.curves.bands import check_confidence
from wornby.curves.likelihood import LARGEST_EXPONENT
from wornby.curves.log_ages import Array, evidence
from wornby.curves.reach import outside_failures, past_longest_watch
from wornby.curves.shape_prior import ShapePrior
from wornby.curves.shape_scale_grid import EXPECTED, Grid, posterior_grid
from wornby.curves.uncertainty import Estimate, WeibullDraws
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

MOST_EDGE_MASS = 1e-6
NO_FAILURE = "no failure seen: a one-sided bound"


@dataclass(frozen=True, eq=False, slots=True)
class WeibullPosterior:
    """What the data and the prior leave of a Weibull: nodes of a grid with their weights.

    `weight` (r, c) sums to 1 over the nodes of `grid`; `edge_mass` is what lies at its edges.
    Ages are measured from exp(`centre`). Values are posterior medians, limits equal-tailed.
    Without a failure each answer is a one-sided bound at the stated confidence: the value is
    `None`, and the other limit says that the data set none, since a part that never failed
    may last for ever.
    """

    grid: Grid
    weight: Array
    centre: float
    edge_mass: float
    prior: ShapePrior
    counts: Counts

    def draws(self, rng: np.random.Generator, n: int) -> WeibullDraws:
        """Pairs of shape and scale drawn from the posterior, smoothed within the grid's cells."""
        grid = self.grid
        places = rng.choice(self.weight.size, size=n, p=self.weight.ravel())
        row, column = np.divmod(places, self.weight.shape[1])
        across, along = rng.uniform(-0.5, 0.5, (2, n))
        height = grid.log_shape[1] - grid.log_shape[0]
        width = grid.log_expected[row, 1] - grid.log_expected[row, 0]
        log_shape = grid.log_shape[row] + across * height
        log_expected = grid.log_expected[row, column] + along * width
        log_exposure = np.interp(log_shape, grid.log_shape, grid.log_exposure)
        shape = np.exp(log_shape)
        log_scale = self.centre - (log_expected - log_exposure) / shape
        scale = np.exp(np.clip(log_scale, -LARGEST_EXPONENT, LARGEST_EXPONENT))
        return WeibullDraws(shape, scale, self.counts.unit)

    def shape(self, *, confidence: float) -> Estimate:
        """The shape; the prior's own where nothing failed.

        ValueError: a confidence that is none.
        """
        by_row = self.weight.sum(1)
        value, lower, upper = tails(np.exp(self.grid.log_shape), by_row, confidence)
        return Estimate(value, lower, upper, confidence, "", self.prior.basis)

    def b_life(self, share: float, *, confidence: float) -> Estimate:
        """The age by which `share` of the parts have failed; without a failure, its lower bound.

        In the unit of the counts. ValueError: a share or confidence that is none.
        """
        if not 0 < share < 1:
            raise ValueError(f"share {share}: wanted between 0 and 1")
        shape, log_scale = self._nodes()
        lives = np.exp(np.minimum(log_scale + np.log(-np.log1p(-share)) / shape, LARGEST_EXPONENT))
        unit = self.counts.unit
        if not self.counts.n_failures:
            lowest = quantile(lives, self.weight, 1 - confidence)
            return Estimate(None, lowest, np.inf, confidence, unit, NO_FAILURE)
        value, lower, upper = tails(lives, self.weight, confidence)
        note = outside_failures(self.counts, value)
        return Estimate(value, lower, upper, confidence, unit, note)

    def share_failed(self, age: float, *, confidence: float) -> Estimate:
        """The share of parts that have failed by `age`; without a failure, its upper bound.

        ValueError as `chance_within`.
        """
        return self.chance_within(age=0.0, horizon=age, confidence=confidence)

    def chance_within(self, *, age: float, horizon: float, confidence: float) -> Estimate:
        """Chance that a part running at `age` fails within the horizon.

        ValueError: an age below nought, no horizon, or a confidence that is none.
        """
        chances = self._chances(age, horizon)
        if not self.counts.n_failures:
            highest = quantile(chances, self.weight, confidence)
            return Estimate(None, 0.0, highest, confidence, "chance", NO_FAILURE)
        value, lower, upper = tails(chances, self.weight, confidence)
        note = past_longest_watch(self.counts, age + horizon)
        return Estimate(value, lower, upper, confidence, "chance", note)

    def predicted_chance(self, *, age: float, horizon: float) -> float:
        """Chance that one more part running at `age` fails within the horizon, all doubt in it.

        ValueError as `chance_within`.
        """
        return float((self.weight * self._chances(age, horizon)).sum())

    def _nodes(self) -> tuple[Array, Array]:
        """Shape (r, 1) and log scale (r, c) at the nodes."""
        shape = np.exp(self.grid.log_shape)[:, None]
        log_rate = self.grid.log_expected - self.grid.log_exposure[:, None]
        return shape, self.centre - log_rate / shape

    def _chances(self, age: float, horizon: float) -> Array:
        """Chance of failing within the horizon at each node."""
        if not (0 <= age < np.inf and 0 < horizon < np.inf):
            raise ValueError(f"age {age}, horizon {horizon}: wanted age from 0, horizon above 0")
        shape, log_scale = self._nodes()
        log_end = np.log(age + horizon)
        log_hazard = np.minimum(shape * (log_end - log_scale), LARGEST_EXPONENT)
        share = 1 - (age / (age + horizon)) ** shape
        return np.asarray(-np.expm1(-np.exp(log_hazard) * share))


def tails(values: Array, weight: Array, confidence: float) -> tuple[float, float, float]:
    """Median and equal-tailed limits of weighted values.

    ValueError: a confidence that is none.
    """
    check_confidence(confidence)
    tail = (1 - confidence) / 2
    value, lower, upper = (quantile(values, weight, share) for share in (0.5, tail, 1 - tail))
    return value, lower, upper


def quantile(values: Array, weight: Array, share: float) -> float:
    """A quantile of weighted values, straight between the middles of their weights.

    `values` and `weight` of one shape. ValueError: a share that is none.
    """
    if not 0 < share < 1:
        raise ValueError(f"share {share}: wanted between 0 and 1")
    order = np.argsort(values, axis=None)
    ordered = weight.ravel()[order]
    middles = np.cumsum(ordered) - ordered / 2
    return float(np.interp(share, middles, values.ravel()[order]))


def edge_masses(grid: Grid, weight: Array) -> dict[str, float]:
    """Weight (r, c) on the grid's outermost nodes, where the prior does not end, by what it means.

    Ages in one place draw the shape up without end; failures straight after entry, down.
    """
    width = grid.log_expected[:, 1] - grid.log_expected[:, 0]
    open_end = grid.log_expected[:, 0] > EXPECTED[0] + width
    lowest, highest = np.exp(grid.log_shape[[0, -1]])
    return {
        f"a shape of {highest:.2g}: failures too close together to tell it": weight[-1].sum(),
        f"a shape of {lowest:.2g}: failures too soon after entry to tell it": weight[0].sum(),
        "the failures that its grid expects": weight[open_end, 0].sum() + weight[:, -1].sum(),
    }


def weibull_posterior(counts: Counts, *, prior: ShapePrior) -> WeibullPosterior:
    """Exact posterior of a Weibull from any number of failures, none included.

    Takes delayed entry, bounds and counts like `weibull`. The prior is stated: see `ShapePrior`.
    EstimateError: no lives, none seen alive for any time, or a posterior that runs past its grid.

    >>> import polars as pl
    >>> from wornby.curves.shape_prior import CAR_COMPONENT
    >>> table = pl.DataFrame(
    ...     {"entry": [0.0, 2.0], "lower": [6.0, 9.0], "upper": float("inf"), "count": [10.0, 9.0]}
    ... )
    >>> mounts = Counts(table, unit="years", what="mount", rule="as watched")
    >>> posterior = weibull_posterior(mounts, prior=CAR_COMPONENT)
    >>> life = posterior.b_life(0.1, confidence=0.9)
    >>> life.value, round(life.lower, 1), life.note
    (None, 8.8, 'no failure seen: a one-sided bound')
    """
    if not counts.table.height:
        raise EstimateError(f"{counts.what}: no lives to judge by")
    known = evidence(counts)
    grid = posterior_grid(known, prior)
    weight = np.exp(grid.log_mass - grid.log_mass.max())
    weight = weight / weight.sum()
    edges = edge_masses(grid, weight)
    edge, past = float(sum(edges.values())), max(edges, key=lambda one: edges[one])
    if edge > MOST_EDGE_MASS:
        raise EstimateError(f"{counts.what}: the posterior runs past {past}")
    return WeibullPosterior(grid, weight, known.centre, edge, prior, counts)
