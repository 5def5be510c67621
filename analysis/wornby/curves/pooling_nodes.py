"""What the data leave open when groups are pooled: a grid of shapes, mean rates and spreads.

Given a shape, group g fails at rate r_g in its exposure e_g, the sum of exit^shape -
entry^shape, and the rates come from a gamma distribution of mean m and coefficient of
variation c: the failures are then negative binomial. The grid weighs each (shape, c, m) by that
likelihood and a prior: the stated one for the shape, flat in log m, half-Cauchy in c (Gelman
2006), half of whose mass lies below `SPREAD_SCALE`. Ages are in units of the typical failure age.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.special import gammaincc, gammaln

from wornby.curves.given_shape import weibayes
from wornby.curves.likelihood import LARGEST_EXPONENT
from wornby.curves.log_ages import Array
from wornby.curves.shape_prior import ShapePrior
from wornby.histories.counts import Counts

SPREAD_SCALE = 0.5
"""As likely as not, rates of groups vary by less than half their mean."""
SPREADS = np.geomspace(0.02, 8.0, 13)
REACH = np.linspace(-5.0, 5.0, 11)
SHAPE_REACH = np.linspace(-5.0, 5.0, 21)
N_LIVES = (20, 20, 50)
LEAST_WEIGHT = 1e-4


@dataclass(frozen=True, eq=False, slots=True)
class PoolingGrid:
    """Nodes (n,) with their weights, and at each the groups' exposures (n, g).

    The gamma of rates at a node is worth `size` failures in `belief` of exposure. Ages are in
    units of `typical`.
    """

    weight: Array
    shape: Array
    size: Array
    belief: Array
    exposure: Array
    typical: float

    def pull(self) -> Array:
        """How far each group's rate is drawn to the common one, averaged over the nodes (g,)."""
        belief = self.belief[:, None]
        return np.asarray(self.weight @ (belief / (belief + self.exposure)))

    def lives(self, failures: Array, *, hazard: float, shares: tuple[float, ...]) -> list[Array]:
        """Posterior quantiles of each group's age at a cumulative hazard: one row a share."""
        size = self.size[:, None] + failures
        rate = size / (self.belief[:, None] + self.exposure)
        middle = np.log(hazard / rate) / self.shape[:, None]
        doubt = 6 / np.sqrt(size) / self.shape[:, None]
        low, high = (middle - doubt).min(0), (middle + doubt).max(0)
        far = min(*shares, *(1 - share for share in shares)) / 2
        for n in N_LIVES:
            log_ages = np.linspace(low, high, n)
            steep = -log_ages[:, None, :] * self.shape[:, None]
            expected = hazard * np.exp(np.minimum(steep, LARGEST_EXPONENT))
            ended = gammaincc(size, expected * size / rate)
            below = np.einsum("n,lng->lg", self.weight, ended)
            first, last = (below > far).argmax(0) - 1, (below > 1 - far).argmax(0)
            every = np.arange(failures.size)
            low, high = log_ages[np.maximum(first, 0), every], log_ages[last, every]
        told = [[np.interp(s, below[:, g], log_ages[:, g]) for g in every] for s in shares]
        return [self.typical * np.exp(row) for row in told]


def pooling_grid(groups: Mapping[str, Counts], shape: float, prior: ShapePrior) -> PoolingGrid:
    """The grid around the likeliest shape, nodes of next to no weight left out."""
    scaled, typical = in_typical_ages(groups)
    shapes = likely_shapes(scaled, shape, prior)
    fits = [[weibayes(counts, shape=one) for counts in scaled] for one in shapes]
    failures = np.array([fit.failures for fit in fits[0]])
    exposure = np.array([[fit.exposure for fit in row] for row in fits])[:, None, None, :]
    n, size = float(failures.sum()), (SPREADS**-2)[None, :, None]
    step = np.sqrt(1 / n + SPREADS**2 / failures.size)[None, :, None]
    mean = n / exposure.sum(-1) * np.exp(REACH * step)
    belief = size / mean

    height = (gammaln(size[..., None] + failures) - gammaln(size)[..., None]).sum(-1)
    own = (size[..., None] + failures) * np.log1p(exposure / belief[..., None])
    height = height - (failures * np.log(belief[..., None]) + own).sum(-1)
    spread = SPREADS[None, :, None]
    of_spread = np.log(spread) - np.log1p((spread / SPREAD_SCALE) ** 2) + np.log(step)
    of_shape = n * np.log(shapes) + prior.log_density(np.log(shapes))
    total = height + of_spread + of_shape[:, None, None]

    weight = np.exp(total - total.max())
    kept = weight > LEAST_WEIGHT
    shape_at, size_at, belief_at = (
        np.broadcast_to(one, total.shape)[kept] for one in (shapes[:, None, None], size, belief)
    )
    exposure_at = exposure[np.nonzero(kept)[0], 0, 0, :]
    weight = weight[kept] / weight[kept].sum()
    return PoolingGrid(weight, shape_at, size_at, belief_at, exposure_at, typical)


def in_typical_ages(groups: Mapping[str, Counts]) -> tuple[list[Counts], float]:
    """The groups with ages in units of the geometric mean of the failure ages."""
    n = sum(counts.n_failures for counts in groups.values())
    total = 0.0
    for counts in groups.values():
        _, lower, upper, count = counts.columns()
        failed = lower == upper
        total += float((count[failed] * np.log(lower[failed])).sum())
    typical = float(np.exp(total / n))
    ages = pl.col("entry", "lower", "upper") / typical
    scaled = [
        Counts(counts.table.with_columns(ages), counts.unit, counts.what, counts.rule)
        for counts in groups.values()
    ]
    return scaled, typical


def likely_shapes(groups: list[Counts], shape: float, prior: ShapePrior) -> Array:
    """Shapes around the likeliest, as far as the data (all groups as one) and the prior reach."""
    n = sum(counts.n_failures for counts in groups)

    def height(log_shape: float) -> float:
        exposure = sum(
            weibayes(counts, shape=float(np.exp(log_shape))).exposure for counts in groups
        )
        return n * (log_shape - float(np.log(exposure)))

    place, step = float(np.log(shape)), 0.05
    bend = height(place + step) - 2 * height(place) + height(place - step)
    told, known = max(-bend / step**2, 0.0), prior.log_std_dev**-2
    middle = (told * place + known * np.log(prior.median)) / (told + known)
    return np.asarray(np.exp(middle + SHAPE_REACH / np.sqrt(told + known)))
