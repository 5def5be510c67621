"""Two- and three-parameter curves in one likelihood, each by its own function.

A family with one number more is fitted by Newton's method at each value of that number, and
the number by search over the profile of the likelihood so obtained.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wornby.curves.ascent import climb
from wornby.curves.likelihood import LOGLOGISTIC, LOGNORMAL, WEIBULL, Family, log_likelihood
from wornby.curves.log_ages import Array, Evidence, evidence, reduced
from wornby.curves.parametric import LARGEST_SHAPE, best_start
from wornby.curves.rival_families import generalised_gamma, weibull_with_survivors
from wornby.curves.rival_search import at_extra, at_slope, check_inside, searched
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

GAMMA_LOG_SHAPES = np.linspace(-2.5, 13, 21)
GENERALISED_QS = np.linspace(-4, 6, 21)


@dataclass(frozen=True, eq=False, slots=True)
class RivalCurve:
    """One fitted curve: z = slope x (log(age - shift) - centre) - intercept in its family.

    `extra` is the number searched for, where there is one: the gamma's shape, Prentice's Q, the
    shift in the unit of the counts, or the share that never fails.
    """

    name: str
    family: Family
    intercept: float
    slope: float
    centre: float
    shift: float
    extra: float | None
    n_parameters: int
    log_likelihood: float
    counts: Counts

    def survival(self, age: ArrayLike) -> Array:
        """Chance that a part is still running at each age."""
        since = np.asarray(age, dtype=np.float64) - self.shift
        z = self.slope * (np.log(np.maximum(since, 1e-300)) - self.centre) - self.intercept
        with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
            alive = np.exp(self.family.log_survival(np.atleast_1d(z))[0])
        return np.where(since > 0, alive.reshape(z.shape), 1.0)

    def b_life(self, share: float) -> float:
        """Age by which `share` have failed; infinite where so many never do.

        ValueError: a share that is none. Past the last failure `reach` has a note for it.
        """
        if not 0 < share < 1:
            raise ValueError(f"share {share}: wanted between 0 and 1")
        z = self.family.quantile(share)
        return float(self.shift + np.exp(self.centre + (z + self.intercept) / self.slope))

    @property
    def aic(self) -> float:
        """Akaike's criterion (1974): twice the parameters less twice the log-likelihood."""
        return 2 * self.n_parameters - 2 * self.log_likelihood

    @property
    def bic(self) -> float:
        """Schwarz's criterion (1978), with failures for its size (Volinsky & Raftery 2000)."""
        return self.n_parameters * float(np.log(self.counts.n_failures)) - 2 * self.log_likelihood


def two_parameter(family: Family, counts: Counts) -> RivalCurve:
    """A curve of two parameters; EstimateError where the fit does not converge."""
    known = evidence(counts)
    summit = climb(lambda theta: log_likelihood(family, known, theta), best_start(family, known))
    intercept, slope = summit.point[0].tolist()
    if not summit.converged[0] or slope > LARGEST_SHAPE:
        raise EstimateError(f"{counts.what}: the {family.name} fit did not converge")
    value = float(summit.value[0])
    return RivalCurve(
        family.name, family, intercept, slope, known.centre, 0.0, None, 2, value, counts
    )


def gamma_at(known: Evidence, shape: float, middle: float) -> tuple[float, Array]:
    """Highest likelihood of a gamma with a given shape: only its scale is free."""
    return at_slope(generalised_gamma(shape**-0.5), known, float(np.sqrt(shape)), middle=middle)


def with_extra(
    name: str,
    family_at: Callable[[float], Family],
    *,
    places: Array,
    open_ends: list[float],
    counts: Counts,
) -> RivalCurve:
    """A curve of three parameters, the third searched over places, each climb from the last.

    EstimateError: no fit at any place, or the highest at an open end.
    """
    known = evidence(counts)
    point = best_start(WEIBULL, known)

    def profile(place: float) -> float:
        nonlocal point
        height, found = at_extra(family_at(place), known, point)
        point = found if np.isfinite(height) else point
        return height

    extra = searched(profile, places)
    check_inside(name, extra, open_ends)
    value, point = at_extra(family_at(extra), known, point)
    (intercept, slope), family = point[0].tolist(), family_at(extra)
    return RivalCurve(name, family, intercept, slope, known.centre, 0.0, extra, 3, value, counts)


def weibull_2(counts: Counts) -> RivalCurve:
    """The Weibull itself.

    EstimateError as `two_parameter`.

    >>> from wornby.curves.bearings import BEARINGS
    >>> round(weibull_2(BEARINGS).slope, 2)
    2.1
    """
    return two_parameter(WEIBULL, counts)


def lognormal_2(counts: Counts) -> RivalCurve:
    """The lognormal.

    EstimateError as `two_parameter`.

    >>> from wornby.curves.bearings import BEARINGS
    >>> round(lognormal_2(BEARINGS).b_life(0.1), 2)
    32.52
    """
    return two_parameter(LOGNORMAL, counts)


def log_logistic_2(counts: Counts) -> RivalCurve:
    """The log-logistic.

    EstimateError as `two_parameter`.

    >>> from wornby.curves.bearings import BEARINGS
    >>> round(log_logistic_2(BEARINGS).b_life(0.1), 2)
    33.19
    """
    return two_parameter(LOGLOGISTIC, counts)


def gamma_2(counts: Counts) -> RivalCurve:
    """The gamma, its shape searched (Lawless 2003, section 1.3.5).

    EstimateError: its likelihood rises to an end of the search.

    >>> from wornby.curves.bearings import BEARINGS
    >>> round(gamma_2(BEARINGS).extra, 2)
    4.02
    """
    known = evidence(counts)
    start = best_start(WEIBULL, known)[0]
    middle = float(start[0] / start[1])

    def profile(log_shape: float) -> float:
        nonlocal middle
        height, point = gamma_at(known, float(np.exp(log_shape)), middle)
        middle = float(point[0, 0] / point[0, 1])
        return height

    place = searched(profile, GAMMA_LOG_SHAPES)
    check_inside("gamma", place, [GAMMA_LOG_SHAPES[0], GAMMA_LOG_SHAPES[-1]])
    shape = float(np.exp(place))
    value, point = gamma_at(known, shape, middle)
    intercept, slope = point[0].tolist()
    family = generalised_gamma(shape**-0.5)
    return RivalCurve("gamma", family, intercept, slope, known.centre, 0.0, shape, 2, value, counts)


def generalised_gamma_3(counts: Counts) -> RivalCurve:
    """The generalised gamma: Q = 1 is the Weibull, Q = 0 the lognormal (Prentice 1974).

    EstimateError: the likelihood rises to the end of the search, as it does with few failures.

    >>> from wornby.curves.bearings import BEARINGS
    >>> round(generalised_gamma_3(BEARINGS).extra, 2)
    0.31
    """
    ends = [float(GENERALISED_QS[0]), float(GENERALISED_QS[-1])]
    return with_extra(
        "generalised gamma",
        generalised_gamma,
        places=GENERALISED_QS,
        open_ends=ends,
        counts=counts,
    )


def never_fails_3(counts: Counts) -> RivalCurve:
    """A Weibull with a share that never fails (Boag 1949; Meeker 1987, limited failures).

    The share that can fail is sought down to a quarter of that seen to fail; none that never
    fails is an answer, the Weibull itself. EstimateError: the likelihood rises to the other end.

    >>> from wornby.curves.bearings import BEARINGS
    >>> round(never_fails_3(BEARINGS).extra, 2)
    0.0
    """
    fewest = counts.n_failures / counts.n_lives / 4
    places = 1 - np.geomspace(1, fewest, 26)
    return with_extra(
        "Weibull, some never fail",
        weibull_with_survivors,
        places=places,
        open_ends=[float(places[-1])],
        counts=counts,
    )


def shifted(columns: tuple[Array, ...], shift: float) -> Evidence:
    """The same lives with age counted from `shift`; what came before it tells nothing."""
    entry, lower, upper = (np.maximum(ages - shift, 0.0) for ages in columns[:3])
    told = (upper > 0) & ((lower > entry) | (upper > lower))
    kept = tuple(column[told] for column in (entry, lower, upper, columns[3]))
    return reduced(kept, kept[3][None, :])


def weibull_3(counts: Counts) -> RivalCurve:
    """A Weibull that begins at a shift, held at shapes of 1 and more.

    Below a shape of 1 the likelihood grows without bound as the shift nears the first failure
    (Smith 1985), so there is no estimate to be had there; at the bound the shape is 1, and the
    shift as near to the first failure as it is sought. EstimateError: no shift gives a fit.

    >>> from wornby.curves.bearings import BEARINGS
    >>> round(weibull_3(BEARINGS).extra, 2)
    14.88
    """
    columns = counts.columns()
    _, lower, upper, _ = columns
    first = float(np.where(lower == upper, lower, upper).min())

    def fit(shift: float) -> tuple[float, Array, Evidence]:
        known = shifted(columns, shift)
        value, point = at_extra(WEIBULL, known, best_start(WEIBULL, known))
        if point[0, 1] < 1 or not np.isfinite(value):
            value, point = at_slope(WEIBULL, known, 1.0)
        return value, point, known

    places = first * (1 - np.geomspace(1, 1e-6, 30))
    shift = searched(lambda place: fit(place)[0], places)
    value, point, known = fit(shift)
    intercept, slope = point[0].tolist()
    name, ages = "Weibull from a shift", (known.centre, shift, shift)
    return RivalCurve(name, WEIBULL, intercept, slope, *ages, 3, value, counts)
