"""Does a curve fit? Probability-plot places, and a test against Kaplan-Meier by simulation."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import logit, ndtri

from wornby.curves.at_risk import check_exact, number_at_risk
from wornby.curves.intervals import turnbull
from wornby.curves.likelihood import LOGLOGISTIC, LOGNORMAL, WEIBULL, Family
from wornby.curves.log_ages import Array
from wornby.curves.nonparametric import SurvivalCurve, kaplan_meier
from wornby.curves.rival_curves import RivalCurve, two_parameter
from wornby.curves.simulated_fits import ROUNDING, SimulatedLives, fits_to_steps
from wornby.histories.counts import Counts

TWO_PARAMETER: dict[str, Family] = {f.name: f for f in (WEIBULL, LOGNORMAL, LOGLOGISTIC)}


AT_SURVIVAL: dict[str, Callable[[Array], Array]] = {
    WEIBULL.name: lambda alive: np.log(-np.log(alive)),
    LOGNORMAL.name: lambda alive: -ndtri(alive),
    LOGLOGISTIC.name: lambda alive: -logit(alive),
}
"""Where each standard distribution has come down to a survival."""
MOST_AT_ONCE = 200_000
"""Lives simulated at once, so that memory stays small."""
AS_FAR_OFF, SETS_AT_ONCE = 30, 100


def first_watched(counts: Counts, begins_at: float) -> float:
    """The age from which steps speak: before it nobody was watched, or all who were had failed."""
    return max(begins_at, float(counts.table["entry"].min()))  # type: ignore[arg-type]  # never empty


def plot_places(counts: Counts, family: Family) -> pl.DataFrame:
    """Where failures stand on the family's probability paper: age, share, log_age, place, at_risk.

    Shares are halfway up each step of the nonparametric curve (Meeker & Escobar 1998, section 6.4),
    so that lives in service, bounds and delayed entry count. What failed before anyone was watched
    is taken from the fitted curve: the steps say only who failed afterwards. On a curve of the
    family the places lie on a line in log age. `age` is in the unit of the counts, `place` in that
    of the family's standard variable. EstimateError: no lives, no failure, or no curve of the
    family.

    >>> from wornby.curves.bearings import BEARINGS
    >>> places = plot_places(BEARINGS, WEIBULL)
    >>> places.select("age", pl.col("share", "place").round(3)).row(0), places.height
    ((17.88, 0.022, -3.818), 22)
    """
    steps = turnbull(counts)
    table = steps.table.filter(pl.col("right").is_finite())
    begins = first_watched(counts, steps.begins_at)
    reached = two_parameter(family, counts).survival([begins])[0] if begins > 0 else 1.0
    share = 1 - reached * (table["survival"].to_numpy() + table["mass"].to_numpy() / 2)
    inside = (share > 0) & (share < 1) & (table["right"].to_numpy() > 0)
    age, share = table["right"].to_numpy()[inside], share[inside]
    return pl.DataFrame(
        {
            "age": age,
            "share": share,
            "log_age": np.log(age),
            "place": [family.quantile(float(one)) for one in share],
            "at_risk": number_at_risk(counts, age),
        },
        schema_overrides={"place": pl.Float64},
    )


def distance(steps: SurvivalCurve, curve: RivalCurve) -> float:
    """Cramer and von Mises' distance of a curve from Kaplan-Meier, over the falls of the latter."""
    age, survival = steps.table["age"].to_numpy(), steps.table["survival"].to_numpy()
    before = np.append(1.0, survival[:-1])
    reached = curve.survival(np.array([first_watched(steps.counts, steps.begins_at)]))[0]
    gap = (before + survival) / 2 - curve.survival(age) / reached
    return float(((before - survival) * gap**2).sum())


@dataclass(frozen=True, eq=False, slots=True)
class Watch:
    """Lives one by one: entry, end, whether it failed, how much of a life it counts.

    `leaving` is the curve of when watching ended in general.
    """

    entry: Array
    end: Array
    failed: NDArray[np.bool_]
    weight: Array
    leaving: SurvivalCurve


def watch(counts: Counts) -> Watch:
    """Each life of the counts, and Kaplan-Meier of the ends of watching.

    A count that is not whole ends in a life that counts for its fraction: where one of two
    positions failed and no line says which, each failed by half.
    """
    entry, lower, upper, count = counts.columns()
    turned = counts.table.with_columns(
        upper=pl.when(pl.col("upper").is_finite()).then(float("inf")).otherwise("lower")
    )
    leaving = kaplan_meier(
        Counts(turned, counts.unit, counts.what, counts.rule),
        confidence=0.5,
        early_rule="from the first watched",
    )
    times = np.ceil(count - ROUNDING).astype(np.int64)
    last = np.cumsum(times) - 1
    weight = np.ones(times.sum())
    weight[last] = count - (times - 1)
    failed = np.repeat(np.isfinite(upper), times)
    return Watch(np.repeat(entry, times), np.repeat(lower, times), failed, weight, leaving)


def leaving_ages(seen: Watch, rng: np.random.Generator, n_sets: int) -> Array:
    """An age at which each life's watch would end: its own, or drawn beyond it if it failed."""
    steps = seen.leaving.table
    ages, alive = steps["age"].to_numpy(), steps["survival"].to_numpy()
    level = seen.leaving.survival(seen.end) * rng.uniform(size=(n_sets, seen.end.size))
    drawn = np.append(ages, np.inf)[np.searchsorted(-alive, -level)]
    longest = seen.end.max()
    return np.where(seen.failed, np.minimum(np.maximum(drawn, seen.end), longest), seen.end)


def simulated(
    curve: RivalCurve, seen: Watch, rng: np.random.Generator, n_sets: int
) -> SimulatedLives:
    """The same watches with lives drawn from the curve, given each one's entry."""
    alive = curve.survival(seen.entry) * rng.uniform(size=(n_sets, seen.entry.size))
    z = AT_SURVIVAL[curve.family.name](np.clip(alive, 1e-300, 1 - 1e-16))
    life = np.exp(curve.centre + (z + curve.intercept) / curve.slope)
    life = np.maximum(life, np.nextafter(seen.entry, np.inf))
    stop = leaving_ages(seen, rng, n_sets)
    return SimulatedLives(seen.entry, seen.weight, np.minimum(life, stop), life <= stop)


@dataclass(frozen=True, eq=False, slots=True)
class FitCheck:
    """How each two-parameter curve stands against Kaplan-Meier.

    `table` has curve, distance, p_value, fits; `sentence` says it in words.
    """

    table: pl.DataFrame
    level: float
    sentence: str


def p_value(
    family: Family, counts: Counts, *, rng: np.random.Generator, n: int
) -> tuple[float, float]:
    """A family's distance, and the share of simulated data sets that lie as far off their fit.

    No more than `n` are simulated, and none once `AS_FAR_OFF` lie as far: their number over all
    until then is as good a p-value, and a curve that fits is soon seen to (Besag & Clifford 1991,
    sequential Monte Carlo p-values). EstimateError: no lives, failures within bounds, or no curve
    of the family.
    """
    check_exact(counts)
    curve = two_parameter(family, counts)
    seen, own = watch(counts), distance(kaplan_meier(counts, confidence=0.5), curve)
    start, most = np.array([curve.intercept, curve.slope]), max(1, MOST_AT_ONCE // seen.end.size)
    far, n_sets = 0, 0
    while n_sets < n:
        at_once = min(SETS_AT_ONCE, most, n - n_sets)
        sets = simulated(curve, seen, rng, at_once)
        off = np.cumsum(fits_to_steps(family, sets, start, curve.centre) >= own)
        if far + off[-1] >= AS_FAR_OFF:
            until = n_sets + int(np.searchsorted(off, AS_FAR_OFF - far)) + 1
            return own, AS_FAR_OFF / until
        far, n_sets = far + int(off[-1]), n_sets + at_once
    return own, (far + 1) / (n + 1)


def fit_check(counts: Counts, *, level: float, rng: np.random.Generator, n: int) -> FitCheck:
    """Test Weibull, lognormal and log-logistic against Kaplan-Meier by parametric bootstrap.

    Each is rejected at `level` where so few of `n` data sets simulated from it, watched alike, lie
    as far from their own fit (Stute, Gonzalez Manteiga & Presedo Quindimil 1993). EstimateError: no
    lives, failures within bounds, or no curve to simulate from.

    >>> from wornby.curves.bearings import BEARINGS
    >>> found = fit_check(BEARINGS, level=0.05, rng=np.random.default_rng(1), n=39)
    >>> found.table["fits"].to_list()
    [True, True, True]
    >>> found.sentence[:14]
    'ball bearing: '
    """
    check_exact(counts)
    rows = [
        (name, *p_value(family, counts, rng=rng, n=n)) for name, family in TWO_PARAMETER.items()
    ]
    table = pl.DataFrame(rows, schema=["curve", "distance", "p_value"], orient="row")
    table = table.with_columns(fits=pl.col("p_value") > level).sort("p_value", descending=True)
    fitting = table.filter("fits")["curve"].to_list()
    what = counts.what
    sentence = (
        f"{what}: {', '.join(fitting)} cannot be told from the data at the {level:.0%} level."
        if fitting
        else f"{what}: no two-parameter curve fits; all are rejected at the {level:.0%} level."
    )
    return FitCheck(table, level, sentence)
