"""Does a curve fit? Probability-plot places, and a test against Kaplan-Meier by simulation."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.curves.at_risk import check_exact
from wornby.curves.intervals import turnbull
from wornby.curves.likelihood import LOGLOGISTIC, LOGNORMAL, WEIBULL, Family
from wornby.curves.log_ages import Array
from wornby.curves.nonparametric import SurvivalCurve, kaplan_meier
from wornby.curves.rival_curves import RivalCurve, two_parameter
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

TWO_PARAMETER: dict[str, Family] = {f.name: f for f in (WEIBULL, LOGNORMAL, LOGLOGISTIC)}


def plot_places(counts: Counts, family: Family) -> pl.DataFrame:
    """Where failures stand on the family's probability paper: age, share, log_age, place.

    Shares are halfway up each step of the nonparametric curve (Meeker & Escobar 1998, section
    6.4), so that lives in service, bounds and delayed entry count. On a curve of the family the
    places lie on a line in log age.
    """
    table = turnbull(counts).table.filter(pl.col("right").is_finite())
    share = 1 - table["survival"].to_numpy() - table["mass"].to_numpy() / 2
    inside = (share > 0) & (share < 1) & (table["right"].to_numpy() > 0)
    age, share = table["right"].to_numpy()[inside], share[inside]
    place = [family.quantile(float(one)) for one in share]
    return pl.DataFrame({"age": age, "share": share, "log_age": np.log(age), "place": place})


def distance(steps: SurvivalCurve, curve: RivalCurve) -> float:
    """Cramer and von Mises' distance of a curve from Kaplan-Meier, over the falls of the latter."""
    age, survival = steps.table["age"].to_numpy(), steps.table["survival"].to_numpy()
    before = np.append(1.0, survival[:-1])
    reached = curve.survival(np.array([steps.begins_at]))[0]
    gap = (before + survival) / 2 - curve.survival(age) / reached
    return float(((before - survival) * gap**2).sum())


@dataclass(frozen=True, eq=False, slots=True)
class Watch:
    """Lives one by one: entry, end and whether it failed, and when watching ended in general."""

    entry: Array
    end: Array
    failed: NDArray[np.bool_]
    leaving: SurvivalCurve


def watch(counts: Counts) -> Watch:
    """Each life of the counts, and Kaplan-Meier of the ends of watching."""
    entry, lower, upper, count = counts.columns()
    if (count != np.round(count)).any():
        raise EstimateError(f"{counts.what}: counts are not whole, so lives cannot be simulated")
    times = count.astype(np.int64)
    turned = counts.table.with_columns(
        upper=pl.when(pl.col("upper").is_finite()).then(float("inf")).otherwise("lower")
    )
    leaving = kaplan_meier(
        Counts(turned, counts.unit, counts.what, counts.rule),
        confidence=0.5,
        early_rule="from the first watched",
    )
    failed = np.repeat(np.isfinite(upper), times)
    return Watch(np.repeat(entry, times), np.repeat(lower, times), failed, leaving)


def leaving_ages(seen: Watch, rng: np.random.Generator) -> Array:
    """An age at which each life's watch would end: its own, or drawn beyond it if it failed."""
    steps = seen.leaving.table
    ages, alive = steps["age"].to_numpy(), steps["survival"].to_numpy()
    level = seen.leaving.survival(seen.end) * rng.uniform(size=seen.end.size)
    place = np.searchsorted(-alive, -level)
    drawn = np.append(ages, np.inf)[place]
    longest = seen.end.max()
    return np.where(seen.failed, np.minimum(np.maximum(drawn, seen.end), longest), seen.end)


def simulated(curve: RivalCurve, seen: Watch, rng: np.random.Generator) -> Counts:
    """The same watches with lives drawn from the curve, given each one's entry."""
    given = curve.survival(seen.entry)
    share = 1 - given * rng.uniform(size=given.size)
    life = curve.shift + np.exp(
        curve.centre + (quantiles(curve.family, share) + curve.intercept) / curve.slope
    )
    stop = leaving_ages(seen, rng)
    failed = life <= stop
    end = np.where(failed, np.maximum(life, np.nextafter(seen.entry, np.inf)), stop)
    table = pl.DataFrame(
        {"entry": seen.entry, "lower": end, "upper": np.where(failed, end, np.inf), "count": 1.0}
    )
    return Counts(table, curve.counts.unit, curve.counts.what, curve.counts.rule)


def quantiles(family: Family, share: Array) -> Array:
    """The family's quantiles at many shares."""
    return np.array([family.quantile(float(one)) for one in share])


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
    """A family's distance, and the share of simulated data sets that lie as far off their fit."""
    curve = two_parameter(family, counts)
    steps = kaplan_meier(counts, confidence=0.5)
    seen, own = watch(counts), distance(steps, curve)
    farther = 0
    for _ in range(n):
        again = simulated(curve, seen, rng)
        try:
            fit = two_parameter(family, again)
        except EstimateError:
            continue
        farther += distance(kaplan_meier(again, confidence=0.5), fit) >= own
    return own, (farther + 1) / (n + 1)


def fit_check(counts: Counts, *, level: float, rng: np.random.Generator, n: int) -> FitCheck:
    """Test Weibull, lognormal and log-logistic against Kaplan-Meier by parametric bootstrap.

    Each is rejected at `level` where so few of `n` data sets simulated from it, watched alike,
    lie as far from their own fit (Stute, Gonzalez Manteiga & Presedo Quindimil 1993).
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
