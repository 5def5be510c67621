"""Age or distance: on which scale, or blend of the two, do failures line up best?

A part's wear is (1 - weight) x age + weight x distance, each over its mean at failure (Oakes
1995; Duchesne & Lawless 2000: collapsible scales). Given how a vehicle was driven, the chance of
failing is the same whichever scale it is told on, so likelihoods compare once each is a density
for a year of age: the density on the blend times the blend's rise in a year.

A frame of lives has entry_years, exit_years, entry_mi, exit_mi, failed, count.
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.optimize import brentq
from scipy.stats import chi2

from wornby.curves.bands import check_confidence
from wornby.curves.log_ages import Array
from wornby.curves.parametric import WeibullCurve, weibull
from wornby.curves.rival_search import searched
from wornby.errors import EstimateError
from wornby.histories.counts import DAYS_PER_YEAR, Counts

WEIGHTS = np.linspace(0.0, 1.0, 21)


@dataclass(frozen=True, eq=False, slots=True)
class ScaleComparison:
    """Age, distance and their blend on the same failures.

    `table` has scale, distance_weight, shape, log_likelihood, aic, support (Akaike's weight);
    `miles_per_year` is the distance that wears as a year of age does, on the blend; `lower` and
    `upper` are profile limits of the blend's weight of distance. `sentence` says it in words.
    """

    table: pl.DataFrame
    distance_weight: float
    lower: float
    upper: float
    miles_per_year: float | None
    confidence: float
    sentence: str


@dataclass(frozen=True, eq=False, slots=True)
class BothScales:
    """Lives on age and distance (n, 2), each over its mean at failure, and their rise in a year."""

    entry: Array
    exit: Array
    failed: Array
    count: Array
    means: Array
    rise: Array

    def fit(self, weight: float) -> tuple[float, WeibullCurve]:
        """Log-likelihood for a year of age, and the curve, at one weight of distance."""
        blend = np.array([1 - weight, weight])
        end = self.exit @ blend
        upper = np.where(self.failed > 0, end, np.inf)
        columns = {"entry": self.entry @ blend, "lower": end, "upper": upper, "count": self.count}
        curve = weibull(Counts(pl.DataFrame(columns), "mean lives", "blend", "as watched"))
        gained = float((self.count * self.failed * np.log(self.rise @ blend)).sum())
        return curve.log_likelihood + gained, curve

    def height(self, weight: float) -> float:
        """The log-likelihood alone."""
        return self.fit(weight)[0]


def lives_on_both(episodes: pl.DataFrame) -> pl.DataFrame:
    """Episodes as lives on age and distance, those without a distance left out.

    >>> seals = pl.DataFrame(
    ...     {"failed": [True, True], "entry_mi": [0.0, None], "exit_mi": [9e4, None]}
    ... ).with_columns(entry_days=pl.lit(0), exit_days=pl.lit(1461), weight=pl.lit(1.0))
    >>> lives_on_both(seals).select("entry_years", "exit_years", "exit_mi").rows()
    [(0.0, 4.0, 90000.0)]
    """
    return episodes.select(
        "failed",
        "entry_mi",
        "exit_mi",
        entry_years=pl.col("entry_days") / DAYS_PER_YEAR,
        exit_years=pl.col("exit_days") / DAYS_PER_YEAR,
        count=pl.col("weight"),
    ).drop_nulls()


def both_scales(lives: pl.DataFrame) -> BothScales:
    """Lives that lasted some time and some distance while watched.

    EstimateError: an age or distance that cannot be, or no failure with both.
    """
    watched = lives.drop_nulls().filter(
        (pl.col("exit_years") > pl.col("entry_years")) & (pl.col("exit_mi") > pl.col("entry_mi"))
    )
    ages = pl.col("entry_years", "exit_years", "entry_mi", "exit_mi")
    wrong = watched.filter(pl.any_horizontal(~ages.is_finite(), ages < 0))
    if wrong.height:
        raise EstimateError(f"an age or distance that cannot be: {wrong.row(0, named=True)}")
    failures = watched.filter("failed")
    if not failures.height:
        raise EstimateError(f"no failure with both age and distance among {lives.height} lives")
    exits, entries = ["exit_years", "exit_mi"], ["entry_years", "entry_mi"]
    weight = failures["count"].to_numpy()
    means = np.average(failures.select(exits).to_numpy(), axis=0, weights=weight)
    entry, end = watched.select(entries).to_numpy(), watched.select(exits).to_numpy()
    speed = (end[:, 1] - entry[:, 1]) / (end[:, 0] - entry[:, 0])
    rise = np.stack([np.full(speed.size, 1 / means[0]), speed / means[1]], axis=1)
    failed, count = (watched[c].cast(pl.Float64).to_numpy() for c in ("failed", "count"))
    return BothScales(entry / means, end / means, failed, count, means, rise)


def weight_limits(scales: BothScales, best: float, *, confidence: float) -> tuple[float, float]:
    """Profile limits of the weight of distance, nought and one where the data set none."""
    floor = scales.height(best) - float(chi2.ppf(confidence, 1)) / 2

    def end(far: float) -> float:
        if best == far or scales.height(far) >= floor:
            return far
        return float(brentq(lambda w: scales.height(w) - floor, far, best, xtol=1e-6))

    return end(0.0), end(1.0)


def age_or_distance(lives: pl.DataFrame, *, confidence: float) -> ScaleComparison:
    """Compare age, distance and their best blend on the same failures, by Weibull curves.

    The blend costs one parameter more. Its weight of distance is nought for age alone, one for
    distance alone. `lives` as the module says; those without time or distance at risk are left
    out. EstimateError: an age that cannot be, no failure with both, or no Weibull (see `weibull`).

    >>> years = [4.0, 6.0, 7.0, 9.0, 9.5, 12.0]
    >>> miles = [40e3, 52e3, 66e3, 95e3, 90e3, 110e3]
    >>> lives = pl.DataFrame({"exit_years": years, "exit_mi": miles}).with_columns(
    ...     entry_years=0.0, entry_mi=0.0, failed=True, count=1.0
    ... )
    >>> age_or_distance(lives, confidence=0.9).table["scale"].to_list()
    ['distance', 'age', 'blend']
    """
    check_confidence(confidence)
    scales = both_scales(lives)
    best = searched(scales.height, WEIGHTS)
    lower, upper = weight_limits(scales, best, confidence=confidence)
    rows = []
    for scale, weight, parameters in (("age", 0.0, 2), ("distance", 1.0, 2), ("blend", best, 3)):
        value, curve = scales.fit(weight)
        rows.append((scale, weight, curve.shape, value, 2 * parameters - 2 * value))
    columns = ["scale", "distance_weight", "shape", "log_likelihood", "aic"]
    table = pl.DataFrame(rows, schema=columns, orient="row")
    relative = (-(pl.col("aic") - pl.col("aic").min()) / 2).exp()
    table = table.with_columns(support=relative / relative.sum()).sort("aic")
    ratio = (1 - best) / best * scales.means[1] / scales.means[0] if best > 0 else None
    sentence = sentence_on(table, lower=lower, upper=upper, confidence=confidence)
    return ScaleComparison(table, best, lower, upper, ratio, confidence, sentence)


def sentence_on(table: pl.DataFrame, *, lower: float, upper: float, confidence: float) -> str:
    """The better scale and how sure, in words."""
    first, support = table["scale"][0], table["support"][0]
    ruled_out = [
        name for name, weight in (("age", 0.0), ("distance", 1.0)) if not lower <= weight <= upper
    ]
    told = (
        f"{' and '.join(ruled_out)} alone ruled out at {confidence:.0%}"
        if ruled_out
        else f"neither age nor distance alone ruled out at {confidence:.0%}"
    )
    return f"Failures line up best on {first} (support {support:.0%}); {told}."
