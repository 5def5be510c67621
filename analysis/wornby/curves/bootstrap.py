"""Curves refitted to vehicles drawn again: all resamples at once, on counts."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from wornby.curves.ascent import Summit, climb
from wornby.curves.bands import check_confidence
from wornby.curves.likelihood import LARGEST_EXPONENT, WEIBULL, log_likelihood
from wornby.curves.log_ages import Array, Evidence, evidence
from wornby.curves.parametric import LARGEST_SHAPE, WeibullCurve, weibull
from wornby.curves.reach import outside_failures, past_longest_watch
from wornby.curves.uncertainty import Estimate, WeibullDraws
from wornby.curves.vehicles import VehicleCounts
from wornby.errors import EstimateError

MOST_AT_ONCE = 200_000  # numbers in a block that stays in the processor's cache
FEWEST_FAILING = 5


@dataclass(frozen=True, eq=False, slots=True)
class WeibullBootstrap:
    """A Weibull with its refits: one draw for each resample that could be fitted.

    `unfitted` is the share of resamples without a curve, for want of failures.
    """

    curve: WeibullCurve
    draws: WeibullDraws
    unfitted: float

    def interval(
        self,
        asked: Callable[[Array, Array], Array],
        *,
        confidence: float,
        unit: str,
        note: str = "",
    ) -> Estimate:
        """A quantity of (shape, scale) with percentile limits (Efron & Tibshirani 1993, 13.3).

        ValueError: a confidence that is none.
        """
        check_confidence(confidence)
        tail = (1 - confidence) / 2
        lower, upper = np.quantile(asked(self.draws.shape, self.draws.scale), [tail, 1 - tail])
        value = asked(np.array([self.curve.shape]), np.array([self.curve.scale]))[0]
        unfitted = f"{self.unfitted:.1%} of resamples had no fit" if self.unfitted else ""
        notes = "; ".join(one for one in (note, unfitted) if one)
        return Estimate(float(value), float(lower), float(upper), confidence, unit, notes)

    def b_life(self, share: float, *, confidence: float) -> Estimate:
        """The age by which `share` of the parts have failed.

        ValueError: a share or confidence that is none.
        """
        if not 0 < share < 1:
            raise ValueError(f"share {share}: wanted between 0 and 1")
        hazard = -np.log1p(-share)
        return self.interval(
            lambda shape, scale: np.exp(
                np.clip(np.log(scale) + np.log(hazard) / shape, -LARGEST_EXPONENT, LARGEST_EXPONENT)
            ),
            confidence=confidence,
            unit=self.curve.unit,
            note=outside_failures(self.curve.counts, self.curve.b_life(share)),
        )

    def chance_within(self, *, age: float, horizon: float, confidence: float) -> Estimate:
        """Chance that a part running at `age` fails within the horizon.

        ValueError: an age below nought or no horizon.
        """
        if not (0 <= age < np.inf and 0 < horizon < np.inf):
            raise ValueError(f"age {age}, horizon {horizon}: wanted age from 0, horizon above 0")
        end = age + horizon
        return self.interval(
            lambda shape, scale: -np.expm1((age / scale) ** shape - (end / scale) ** shape),
            confidence=confidence,
            unit="chance",
            note=past_longest_watch(self.curve.counts, end),
        )


def some(known: Evidence, rows: slice) -> Evidence:
    """The same evidence for some of the resamples."""
    return Evidence(
        known.alive,
        known.alive_weight[rows],
        known.failed,
        known.failed_weight[rows],
        known.lower,
        known.upper,
        known.from_new,
        known.bounded_weight[rows],
        known.centre,
    )


def refitted(known: Evidence, start: Array, n: int) -> Summit:
    """Climb from the curve of the data for each resample, in blocks that fit in memory."""
    width = known.alive.size + known.failed.size + known.lower.size
    block = max(MOST_AT_ONCE // width, 1)
    climbs = []
    for first in range(0, n, block):
        part = some(known, slice(first, min(first + block, n)))
        begun = np.tile(start, (len(part.alive_weight), 1))
        climbs.append(climb(partial(log_likelihood, WEIBULL, part), begun))
    fields = ("point", "value", "gradient", "hessian", "converged")
    return Summit(*(np.concatenate([getattr(c, field) for c in climbs]) for field in fields))


def weibull_bootstrap(by: VehicleCounts, *, rng: np.random.Generator, n: int) -> WeibullBootstrap:
    """Weibull curves of `n` resamples of the vehicles (Field & Welsh 2007: cluster bootstrap).

    EstimateError: failures in fewer than five vehicles, no curve (see `weibull`), or none for any
    resample. ValueError: no resamples asked for.

    >>> import polars as pl
    >>> from wornby.curves.vehicles import counts_by_vehicle
    >>> ages = [4.0, 6.0, 7.0, 9.0, 9.5, 12.0]
    >>> lives = pl.DataFrame(
    ...     {"vehicle": list("abcdef"), "entry": 0.0, "lower": ages, "upper": ages, "count": 2.0}
    ... )
    >>> by = counts_by_vehicle(lives, unit="years", what="seal", rule="as watched")
    >>> found = weibull_bootstrap(by, rng=np.random.default_rng(1), n=500)
    >>> life = found.b_life(0.1, confidence=0.9)
    >>> life.lower < life.value < life.upper, found.draws.shape.size
    (True, 500)
    """
    if n < 1:
        raise ValueError(f"{n} resamples: wanted at least one")
    if (failing := by.n_failing()) < FEWEST_FAILING:
        raise EstimateError(
            f"{by.counts.what}: failures in {failing} vehicles, wanted {FEWEST_FAILING} to resample"
            " them; use the few-failures posterior"
        )
    curve = weibull(by.counts)
    known = evidence(by.counts, by.resampled(rng, n))
    start = np.array([curve.shape * (np.log(curve.scale) - known.centre), curve.shape])
    summit = refitted(known, start, n)
    shape = summit.point[:, 1]
    fitted = summit.converged & (shape < LARGEST_SHAPE)
    if not fitted.any():
        raise EstimateError(
            f"{by.counts.what}: none of {n} resamples has a curve; use the few-failures posterior"
        )
    shape, intercept = shape[fitted], summit.point[fitted, 0]
    log_scale = known.centre + intercept / shape
    scale = np.exp(np.clip(log_scale, -LARGEST_EXPONENT, LARGEST_EXPONENT))
    draws = WeibullDraws(shape, scale, by.counts.unit)
    return WeibullBootstrap(curve, draws, float(1 - fitted.mean()))
