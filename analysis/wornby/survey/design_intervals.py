"""What weighted lives say of a component: the share failed by an age, and B lives, each with
the interval that the survey's design leaves."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.sparse import csr_array
from scipy.stats import beta

from wornby.curves.bands import check_confidence, normal_root
from wornby.curves.bootstrap import refitted
from wornby.curves.intervals import TurnbullCurve, turnbull
from wornby.curves.likelihood import LARGEST_EXPONENT
from wornby.curves.log_ages import evidence
from wornby.curves.parametric import LARGEST_SHAPE, SMALLEST_SHAPE, WeibullCurve, weibull
from wornby.curves.reach import outside_failures, past_longest_watch
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import Counts
from wornby.survey.lives import DIGITS, SurveyLives
from wornby.survey.weighted import WeightedSurvey
from wornby.survey.weighting import Array, effective_sample_size
from wornby.tables import COUNTS

KEYS = ["entry", "lower", "upper"]
STEPS, ROUNDING = {"years": 0.5, "miles": 5_000.0, "kilometres": 10_000.0}, 1e-6
FEWEST_TOLD = 10.0
TOO_EARLY = "hardly an answer tells of so early a time"
FEWEST_REPLICATES = 2
ENOUGH_REPLICATES = 100
"""For a standard error by Turnbull's curve, which is fitted one replicate after the other."""


@dataclass(frozen=True, eq=False, slots=True)
class WeightedLives:
    """One component's lives with the survey's own weights, and with those of each replicate.

    `counts` are scaled to their effective number (Kish 1965); `replicates` has a row of counts,
    on the same lives, for each replicate.
    """

    counts: Counts
    replicates: Array


def weighted_lives(
    lives: SurveyLives, component: str, *, weighted: WeightedSurvey, weights: Array
) -> WeightedLives:
    """The lives of a component's original parts under `replicate_weights`.

    EstimateError: no lives of that component.
    """
    of_component = lives.lives.filter(component=component)
    if of_component.is_empty():
        raise EstimateError(f"{component}: no answer tells of its life")
    numbered = weighted.answers.select("respondent").with_row_index("answer")
    rows = of_component.select("respondent", pl.col(KEYS).round(DIGITS)).join(
        numbered, on="respondent", how="left", maintain_order="left"
    )
    distinct = rows.select(KEYS).unique().sort(KEYS).with_row_index("life")
    placed = rows.join(distinct, on=KEYS, how="left", maintain_order="left")
    answer, life = placed["answer"].to_numpy(), placed["life"].to_numpy()
    told = weights[:, answer]
    shape = (answer.size, distinct.height)
    to_life = csr_array((np.ones(answer.size), (np.arange(answer.size), life)), shape=shape)
    summed = np.asarray(told @ to_life, dtype=np.float64)
    effective = effective_sample_size(told[0]) / told[0].sum()
    table = distinct.select(KEYS).with_columns(count=summed[0] * effective)
    counts = Counts(
        COUNTS.shape(table),
        str(of_component["unit"][0]),
        what=f"{component} (original, as told)",
        rule=lives.rule.sentence(),
    )
    return WeightedLives(counts, summed[1:])


@dataclass(frozen=True, eq=False, slots=True)
class WeightedWeibull:
    """A Weibull by weighted likelihood, and of each replicate its line of log hazard on log age.

    That line is slope x (log age - centre) - intercept. `dropped` counts the replicates that have
    none; estimates say so.
    """

    curve: WeibullCurve
    intercept: Array
    slope: Array
    centre: float
    dropped: int

    def share_failed(self, age: float, *, confidence: float) -> Estimate:
        """The share failed by an age; the interval is Wald's on the log-log scale.

        ValueError: an age not above 0.
        """
        if not 0 < age < np.inf:
            raise ValueError(f"age {age}: wanted above 0")
        log_hazards = self.slope * (np.log(age) - self.centre) - self.intercept
        best = self.curve.shape * (np.log(age) - np.log(self.curve.scale))
        early = told_by(self.curve.counts, age) < FEWEST_TOLD
        note = TOO_EARLY if early else past_longest_watch(self.curve.counts, age)
        note = self._with_dropped(note)
        return _wald_share(best, log_hazards, confidence=confidence, note=note)

    def b_life(self, share: float, *, confidence: float) -> Estimate:
        """The age by which `share` have failed, limits being percentiles of the replicates."""
        check_confidence(confidence)
        value, hazard = self.curve.b_life(share), -np.log1p(-share)
        flat = self.slope < SMALLEST_SHAPE
        slope = np.where(flat, SMALLEST_SHAPE, self.slope)
        log_ages = self.centre + (np.log(hazard) + self.intercept) / slope
        tail = (1 - confidence) / 2
        bounds = np.quantile(
            np.clip(log_ages, -LARGEST_EXPONENT, LARGEST_EXPONENT), [tail, 1 - tail]
        )
        lower, upper = np.exp(bounds).tolist()
        note = self._with_dropped(outside_failures(self.curve.counts, value))
        return Estimate(value, lower, upper, confidence, self.curve.unit, note)

    def _with_dropped(self, note: str) -> str:
        return with_dropped(note, self.dropped, of=self.slope.size + self.dropped)


def weighted_weibull(lives: WeightedLives) -> WeightedWeibull:
    """The Weibull of the weighted lives and of each replicate (pseudo-likelihood: Binder 1983).

    EstimateError where there is no curve, see `curves.weibull`, or only in one replicate. In a
    replicate whose answers leave the shape open the climb ends with a flat line, which is what it
    says of shares; one whose failures all fall together has no line and is dropped.
    """
    curve = weibull(lives.counts)
    known = evidence(lives.counts, lives.replicates)
    start = np.array([curve.shape * (np.log(curve.scale) - known.centre), curve.shape])
    summit = refitted(known, start, len(lives.replicates))
    slope = summit.point[:, 1]
    ended = summit.converged | (slope < curve.shape)
    kept = np.isfinite(summit.value) & ended & (slope < LARGEST_SHAPE)
    if kept.sum() < FEWEST_REPLICATES:
        raise EstimateError(
            f"{lives.counts.what}: {kept.sum()} of {kept.size} replicates of the survey have a "
            f"curve, wanted {FEWEST_REPLICATES} to tell its scatter"
        )
    intercept = summit.point[kept, 0]
    return WeightedWeibull(curve, intercept, slope[kept], known.centre, int((~kept).sum()))


def turnbull_share(lives: WeightedLives, age: float, *, confidence: float) -> Estimate:
    """The share failed by an age without assuming a form (Turnbull 1976), weighted.

    Within a cell in which the data do not say when parts failed, falls are spread evenly. Where
    all or none have failed by then the limits are those of Clopper & Pearson at the effective
    number (Korn & Graubard 1998) of the answers that say whether a part had failed by then. So
    they are where fewer than two replicates lie between; fewer dropped ones are noted. Out of
    reach where `told_by` is less than `FEWEST_TOLD`.
    """
    if told_by(lives.counts, age) < FEWEST_TOLD:
        return Estimate(None, None, None, confidence, "chance", TOO_EARLY)
    found = spread_share(turnbull(on_grid(lives.counts)), age)
    note = past_longest_watch(lives.counts, age)
    shares = np.array([spread_share(turnbull(c), age) for c in _replicated(lives)])
    inside = shares[(shares > 0) & (shares < 1)]
    if not 0 < found < 1 or inside.size < FEWEST_REPLICATES:
        tail = (1 - confidence) / 2
        _, working, failed, count = lives.counts.columns()
        n = max(float(count[(working >= age) | (failed <= age)].sum()), 1.0)
        k = found * n
        lower = 0.0 if found == 0 else float(beta.ppf(tail, k, n - k + 1))
        upper = 1.0 if found == 1 else float(beta.ppf(1 - tail, k + 1, n - k))
        return Estimate(found, lower, upper, confidence, "chance", note)
    note = with_dropped(note, shares.size - inside.size, of=shares.size)
    log_hazards = np.log(-np.log1p(-inside))
    best = float(np.log(-np.log1p(-found)))
    return _wald_share(best, log_hazards, confidence=confidence, note=note)


def with_dropped(note: str, dropped: int, *, of: int) -> str:
    """The note, and how many of the replicates could not tell and were left out.

    >>> with_dropped("", 3, of=100)
    '3 of 100 replicates of the survey have no curve there and are left out of the limits'
    """
    if not dropped:
        return note
    told = (
        f"{dropped} of {of} replicates of the survey have no curve there and are left out of the "
        "limits"
    )
    return f"{note}; {told}" if note else told


def on_grid(counts: Counts) -> Counts:
    """The same lives with bounds taken outward to steps finer than owners remember.

    Turnbull's curve follows single answers where bounds are all different; it then scatters more
    than its replicates tell, as does Grenander's estimator (Sen, Banerjee & Woodroofe 2010). On few
    steps it does not.
    """
    step = STEPS[counts.unit]
    down = [(pl.col(name) / step + ROUNDING).floor() * step for name in ("entry", "lower")]
    up = (pl.col("upper") / step - ROUNDING).ceil() * step
    table = counts.table.with_columns(*down, up)
    return Counts(table, counts.unit, counts.what, counts.rule)


def told_by(counts: Counts, age: float) -> float:
    """The effective number of answers that tell of any age up to this one.

    A part seen working or failed only later says that it lasted, or that it may have failed at
    any time before; of the share by then it is the curve's form that speaks.
    """
    _, lower, upper, count = counts.columns()
    return float(count[((lower > 0) & (lower <= age)) | (upper <= age)].sum())


def spread_share(curve: TurnbullCurve, age: float) -> float:
    """The share failed by an age, falls spread evenly over the cells in which they are."""
    fallen = curve.table.filter(pl.col("right").is_finite())
    left, right, mass = (fallen[name].to_numpy() for name in ("left", "right", "mass"))
    width = np.where(right > left, right - left, 1.0)
    by = np.where(right > left, np.clip((age - left) / width, 0, 1), right <= age)
    return float(min(by @ mass, 1.0))


def _replicated(lives: WeightedLives) -> list[Counts]:
    """Counts of each replicate, or of as many as a standard error needs."""
    of = on_grid(lives.counts)
    tables = (of.table.with_columns(count=row) for row in lives.replicates[:ENOUGH_REPLICATES])
    return [Counts(table, of.unit, of.what, of.rule) for table in tables]


def _share(log_hazard: Array) -> Array:
    return -np.expm1(-np.exp(log_hazard))


def _wald_share(best: float, replicates: Array, *, confidence: float, note: str) -> Estimate:
    """A share from its log hazard, the limits as far from it as its replicates scatter."""
    check_confidence(confidence)
    reach = normal_root(confidence) * float(replicates.std(ddof=1))
    value, lower, upper = _share(np.array([best, best - reach, best + reach])).tolist()
    return Estimate(value, lower, upper, confidence, "chance", note)
