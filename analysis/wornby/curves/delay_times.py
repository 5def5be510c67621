"""How long a part shows before it fails: delay time from degraded findings and failures.

A defect comes at an age that is Weibull; from then on each look sees it with a stated chance,
and it leads to failure after a delay (Christer & Waller 1984), here exponential: how long it has
shown already says nothing of how long it will last. Parts are watched from an age at which they
worked and nothing had been seen.
"""

import math
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.optimize import minimize

from wornby.curves.importance import importance_draws
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.curves.uncertainty import Estimate, WeibullDraws
from wornby.errors import EstimateError
from wornby.histories.counts import DAYS_PER_YEAR

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

PRIOR_MEDIAN_YEARS, PRIOR_FACTOR = 0.5, 10.0
PRIOR_BASIS = (
    "before the records, 95 % that the mean delay lies between 18 days and 5 years (common "
    "practice, no source)"
)
SHAPE_SPREAD = CAR_COMPONENT.log_std_dev
SHORTEST_YEARS, LONGEST_YEARS = 0.05, 20.0
NODES, WEIGHTS = np.polynomial.legendre.leggauss(3)
N_PROPOSALS = 1000
WIDEST_EXPONENT = 690.0


@dataclass(frozen=True, eq=False, slots=True)
class DelayTime:
    """Delays as likely as the records leave them, with the ages at which defects come.

    `mean_years` has one mean delay a draw, `defect` the Weibull age at which defects come, draw
    by draw. `n_degraded` parts were found degraded and `n_failed` failed unseen, at looks that
    see a defect with the chance `detection`.
    """

    mean_years: Floats
    defect: WeibullDraws
    detection: float
    n_parts: float
    n_degraded: float
    n_failed: float
    what: str

    @property
    def life(self) -> WeibullDraws:
        """The delay as curves: Weibull with shape 1."""
        return WeibullDraws(np.ones_like(self.mean_years), self.mean_years, "years")

    def mean(self, *, confidence: float) -> Estimate:
        """The mean delay, a median over the draws with equal tails."""
        tail = (1 - confidence) / 2
        low, value, high = np.quantile(self.mean_years, [tail, 0.5, 1 - tail])
        return Estimate(float(value), float(low), float(high), confidence, "years", PRIOR_BASIS)


def delay_time(
    looked: pl.DataFrame, *, detection: float, what: str, n: int, rng: np.random.Generator
) -> DelayTime:
    """Fit the delay time to parts that were looked at (see `tables.LOOKED_AT`).

    The posterior is drawn by importance: proposals from a t around its mode in the logarithms
    of shape, scale and mean delay, resampled by their weights. ValueError: a detection that is no
    chance. EstimateError: none was found degraded before it failed, or too few proposals count.
    """
    if not 0 < detection <= 1:
        raise ValueError(f"{what}: detection is {detection}, wanted above 0 and at most 1")
    degraded = float(looked.filter(pl.col("degraded_days").is_not_null())["weight"].sum())
    failed = float(
        looked.filter(pl.col("failed") & pl.col("degraded_days").is_null())["weight"].sum()
    )
    if degraded == 0:
        raise EstimateError(
            f"{what}: none of {looked.height} was found degraded before it failed: no delay to "
            "learn from"
        )
    spans = _spans(looked, detection)

    def density(at: Floats) -> float:
        believed = _log_prior(at)
        return believed + log_likelihood(spans, at) if believed > -np.inf else believed

    def unlikely(at: Floats) -> float:
        return -density(at)

    start = [math.log(3.0), math.log(1.3 * float(spans.ages[spans.exit].mean())), math.log(0.5)]
    found = minimize(unlikely, start, method="Nelder-Mead", tol=1e-3)
    shape, scale, mean = np.exp(
        importance_draws(density, found.x, n_proposals=N_PROPOSALS, n=n, rng=rng)
    ).T
    return DelayTime(
        mean_years=mean,
        defect=WeibullDraws(shape, scale, "years"),
        detection=detection,
        n_parts=float(looked["weight"].sum()),
        n_degraded=degraded,
        n_failed=failed,
        what=what,
    )


@dataclass(frozen=True, eq=False, slots=True)
class Spans:
    """Looked-at parts as places in one grid of ages, ready for any parameters.

    `ages` are all ages that occur and some between; a piece (`part`, `since`, `until`) is a
    stretch in which a defect may have come, `missed` the chance that the later looks all missed
    it. `first` and `last` do the same for what had to be so when watching began.
    """

    ages: Floats
    part: Places
    since: Places
    until: Places
    missed: Floats
    entry: Places
    entry_missed: Floats
    exit: Places
    found: Floats
    failed: NDArray[np.bool_]
    weight: Floats


def log_likelihood(spans: Spans, at: Floats) -> float:
    """Logarithm of the likelihood at the logarithms of shape, scale and mean delay.

    A defect that came at u fails at x with density exp(-(x-u)/d)/d, or works at x with
    exp(-(x-u)/d); over u this is a difference of one integral of g(u) exp(u/d), taken once.
    """
    shape, scale, mean = np.exp(at)
    ages = spans.ages
    middle = ages[-1] / 2
    hazard = (ages / scale) ** shape
    rising = _rising(ages, shape=shape, scale=scale, mean=mean)
    pieces = spans.missed * (rising[spans.until] - rising[spans.since])
    shown = np.bincount(spans.part, weights=pieces, minlength=spans.exit.size)
    working = np.exp(-(ages[spans.exit] - middle) / mean) * shown
    clean = np.where(spans.failed | (spans.found > 0), 0.0, np.exp(-hazard[spans.exit]))
    density = np.where(spans.failed, working / mean, working) + clean
    known = np.exp(-hazard[spans.entry]) + spans.entry_missed * (
        np.exp(-(ages[spans.entry] - middle) / mean) * rising[spans.entry]
    )
    logs = np.log(np.maximum(density, 1e-300)) - np.log(np.maximum(known, 1e-300))
    return float(spans.weight @ logs)


def _rising(ages: Floats, *, shape: float, scale: float, mean: float) -> Floats:
    """The integral of g(u) exp((u - middle)/d) from 0 to each age, g the density of defects."""
    half = np.diff(ages) / 2
    u = ages[:-1, None] + half[:, None] * (1 + NODES)
    log_scaled = np.log(u / scale)
    hazard = np.exp(np.minimum(shape * log_scaled, WIDEST_EXPONENT))
    exponent = (shape - 1) * log_scaled - hazard + (u - ages[-1] / 2) / mean
    density = shape / scale * np.exp(np.clip(exponent, -WIDEST_EXPONENT, WIDEST_EXPONENT))
    return np.concatenate([[0.0], np.cumsum(half * (density @ WEIGHTS))])


def _spans(looked: pl.DataFrame, detection: float) -> Spans:
    """Pieces between looks, with the later looks that would have had to miss."""
    part, since, until, missed = [], [], [], []
    entry_missed = np.ones(looked.height)
    for n, row in enumerate(looked.iter_rows(named=True)):
        end = row["exit_days"]
        looks = [day for day in row["look_days"] if day < end or (day == end and _missed(row))]
        edges = [0, *looks, end]
        part += [n] * (len(edges) - 1)
        since += edges[:-1]
        until += edges[1:]
        missed += [(1 - detection) ** later for later in range(len(looks), -1, -1)]
        if row["entry_days"] in row["look_days"]:
            entry_missed[n] = 1 - detection
    entry, exit_ = (looked[name].to_numpy() for name in ("entry_days", "exit_days"))
    ages = _ages(np.concatenate([since, until, entry, exit_]))
    in_days = np.rint(ages * DAYS_PER_YEAR).astype(np.intp)
    return Spans(
        ages=ages,
        part=np.array(part),
        since=np.searchsorted(in_days, since),
        until=np.searchsorted(in_days, until),
        missed=np.array(missed),
        entry=np.searchsorted(in_days, entry),
        entry_missed=entry_missed,
        exit=np.searchsorted(in_days, exit_),
        found=looked["degraded_days"].is_not_null().to_numpy().astype(np.float64),
        failed=looked["failed"].to_numpy(),
        weight=looked["weight"].to_numpy(),
    )


def _missed(row: dict[str, object]) -> bool:
    """Whether a look on the last day saw nothing: it is no failure's and no finding's day."""
    return row["degraded_days"] is None and not row["failed"]


def _ages(days: Floats) -> Floats:
    """All ages that occur, and every tenth day besides, in years."""
    every = np.arange(0, int(days.max()) + 10, 10)
    return np.asarray(np.unique(np.concatenate([every, days])) / DAYS_PER_YEAR)


def _log_prior(at: Floats) -> float:
    """The shape's prior, a flat one for the log of the scale, and the stated one for the delay."""
    log_shape, log_scale, log_mean = at
    if not (np.log(SHORTEST_YEARS) < log_mean < np.log(LONGEST_YEARS) and -2 < log_shape < 4):
        return -np.inf
    if not -2 < log_scale < 8:
        return -np.inf
    z = (log_mean - np.log(PRIOR_MEDIAN_YEARS)) / (np.log(PRIOR_FACTOR) / 1.96)
    z_shape = (log_shape - np.log(CAR_COMPONENT.median)) / SHAPE_SPREAD
    return float(-(z_shape**2) / 2 - z**2 / 2)
