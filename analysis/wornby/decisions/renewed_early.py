"""How often a part is renewed while it still works: as a precaution, or nobody says why."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.curves.few_failures import weibull_posterior
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.curves.uncertainty import WeibullDraws
from wornby.histories.counts import count_episodes

EARLY = ("preventive renewal", "renewal unexplained")
"""What ends a part that can then no longer fail."""
N_CURVES = 50


def early_renewals(
    episodes: pl.DataFrame, *, unit: str, what: str, rng: np.random.Generator
) -> WeibullDraws | None:
    """The hazard of a part to be renewed before it fails, as lives that end only so.

    Takes the episodes of one component, whatever its origin and grade (see `tables.EPISODES`);
    failures count as withdrawn, as they do for a hazard by cause (Prentice et al. 1978). None
    where no part ended so. A renewal that the observation rule takes for the end of a life is
    none of these. EstimateError as `weibull_posterior`.

    >>> belts = pl.DataFrame({"exit_days": [1800, 3600, 3700, 3800]}).with_columns(
    ...     entry_days=0, sound_days="exit_days", failed=False, weight=1.0,
    ...     ending=pl.Series(["in service"] + ["preventive renewal"] * 3),
    ... )
    >>> rng = np.random.default_rng(1)
    >>> known = early_renewals(belts, unit="years", what="timing belt", rng=rng)
    >>> gathered_ahead(known, np.array([3.0, 9.0]), np.array([1.0, 1.0])).round(2)
    array([0.  , 0.64])
    """
    early = pl.col("ending").is_in(EARLY) & ~pl.col("failed")
    ended = episodes.with_columns(failed=early)
    counts = count_episodes(ended, unit=unit, what=what, rule="until renewed early")
    if not counts.n_failures:
        return None
    return weibull_posterior(counts, prior=CAR_COMPONENT).draws(rng, N_CURVES)


def gathered_ahead(
    life: WeibullDraws, ages: NDArray[np.float64], ahead: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The hazard that each part gathers over the stretch ahead of it, the mean over draws."""
    shape, scale = life.shape[:, None], life.scale[:, None]
    more = ((ages + ahead) / scale) ** shape - (ages / scale) ** shape
    return np.asarray(more.mean(axis=0))
