"""The same lives told otherwise give the same answers, from every estimator of counts.

In days or in years; in another order; a count split over rows; a watch over (0, 8] told as one
over (0, 5] in service and one over (5, 8] with entry at 5.
"""

from collections.abc import Callable

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wornby.curves.competing import cumulative_incidence
from wornby.curves.few_failures import weibull_posterior
from wornby.curves.given_shape import weibayes
from wornby.curves.groups import log_rank
from wornby.curves.intervals import turnbull
from wornby.curves.location_scale import log_logistic, lognormal
from wornby.curves.nonparametric import kaplan_meier, nelson_aalen
from wornby.curves.parametric import weibull
from wornby.curves.profile import Method, b_life, chance_within
from wornby.curves.rival_curves import (
    gamma_2,
    generalised_gamma_3,
    never_fails_3,
    weibull_2,
    weibull_3,
)
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

LIFE = st.tuples(
    st.integers(0, 8),
    st.integers(1, 12),
    st.sampled_from(["exact", "exact", "in service", "bounded"]),
    st.sampled_from([1.0, 1.0, 2.0, 3.0]),
)
LIVES = st.lists(LIFE, min_size=3, max_size=12)
Life = tuple[int, int, str, float]
Numbers = list[float | None]


def table_of(lives: list[Life], *, exact: bool) -> pl.DataFrame:
    """Ages in years, in quarters, so that some are tied."""
    rows = []
    for entry, length, kind, count in lives:
        start, end = entry / 4, (entry + length) / 4
        if kind == "in service" or (exact and kind == "bounded"):
            rows.append((start, end, np.inf, count))
        else:
            rows.append((start, end if kind == "exact" else (start + end) / 2, end, count))
    schema = ["entry", "lower", "upper", "count"]
    return pl.DataFrame(rows, schema=schema, orient="row").cast(pl.Float64)


def counts_of(table: pl.DataFrame, unit: float = 1.0) -> Counts:
    ages = pl.col("entry", "lower", "upper") * unit
    return Counts(table.with_columns(ages), unit="any", what="part", rule="as watched")


def in_two(table: pl.DataFrame) -> pl.DataFrame:
    """Each watch told as two, the second entered where the first ends."""
    middle = (pl.col("entry") + pl.col("lower")) / 2
    first = table.with_columns(lower=middle, upper=pl.lit(np.inf))
    return pl.concat([first, table.with_columns(entry=middle)])


def in_parts(table: pl.DataFrame) -> pl.DataFrame:
    """Each count told as a half and two quarters."""
    return pl.concat([table.with_columns(pl.col("count") * part) for part in (0.5, 0.25, 0.25)])


TOLD: dict[str, tuple[Callable[[pl.DataFrame], pl.DataFrame], float]] = {
    "in days": (lambda table: table, 365.25),
    "in ten thousands": (lambda table: table, 1e-4),
    "backwards": (lambda table: table.reverse(), 1.0),
    "in parts": (in_parts, 1.0),
    "in two": (in_two, 1.0),
}


def scaled(estimate: Estimate, unit: float) -> Numbers:
    told = (estimate.value, estimate.lower, estimate.upper)
    return [None if one is None else one / unit for one in told]


def steps(counts: Counts, unit: float) -> Numbers:
    curve, ages = kaplan_meier(counts, confidence=0.9), np.array([1.0, 2.0, 4.0]) * unit
    hazard = nelson_aalen(counts, confidence=0.9)
    told = [*curve.survival(ages + unit / 8), *hazard.cumulative_hazard(ages + unit / 8)]
    limits = curve.table.tail(1).select("std_err", "lower", "upper").rows()
    return [*told, *(limits[0] if limits else []), *scaled(curve.quantile(0.2), unit)]


def falls(counts: Counts, unit: float) -> Numbers:
    curve, ages = turnbull(counts), (np.array([1.0, 2.0, 4.0]) + 1 / 8) * unit
    return [*curve.survival(ages), curve.begins_at / unit]


def fit(counts: Counts, unit: float, *, method: Method = "wald") -> Numbers:
    curve = weibull(counts)
    chance = chance_within(curve, age=2.0 * unit, horizon=unit, confidence=0.9, method=method)
    life = scaled(b_life(curve, 0.1, confidence=0.9, method=method), unit)
    return [*life, *scaled(chance, 1.0), curve.shape]


def few(counts: Counts, unit: float) -> Numbers:
    posterior = weibull_posterior(counts, prior=CAR_COMPONENT)
    chance = posterior.chance_within(age=2.0 * unit, horizon=unit, confidence=0.9)
    return [*scaled(posterior.b_life(0.1, confidence=0.9), unit), *scaled(chance, 1.0)]


def given_shape(counts: Counts, unit: float) -> Numbers:
    return scaled(weibayes(counts, shape=1.7).b_life(0.1, confidence=0.9), unit)


def others(counts: Counts, unit: float) -> Numbers:
    return [curve(counts).b_life(0.1) / unit for curve in (lognormal, log_logistic)]


def shared(counts: Counts, unit: float) -> Numbers:
    """Shares of two competing endings, the ages in even quarters failing, the odd ones renewed."""
    quarter = (pl.col("upper") / unit * 4).round()
    ending = pl.when(quarter % 2 == 0).then(pl.lit("failed")).otherwise(pl.lit("renewed"))
    frame = counts.table.with_columns(
        exit="lower", ending=pl.when(pl.col("upper").is_finite()).then(ending)
    )
    found = cumulative_incidence(frame, confidence=0.9)
    return [*found.share(found.table["ending"][0], np.array([1.1, 2.1, 4.1]) * unit)]


def compared(counts: Counts, unit: float) -> Numbers:
    """One group against itself with every count doubled: nothing to find, whatever the telling."""
    twice = counts_of(counts.table.with_columns(pl.col("count") * 2))
    return log_rank({"once": counts, "twice": twice}).table["expected"].to_list()


BOUNDED: dict[str, tuple[Callable[[Counts, float], Numbers], float]] = {
    "turnbull": (falls, 1e-6),
    "weibull": (fit, 1e-5),
    "posterior": (few, 2e-3),
    "other families": (others, 1e-6),
}
EXACT: dict[str, tuple[Callable[[Counts, float], Numbers], float]] = {
    "steps": (steps, 1e-7),
    "given shape": (given_shape, 1e-9),
    "endings": (shared, 1e-7),
    "log-rank": (compared, 1e-7),
}


def answer(compute: Callable[[Counts, float], Numbers], counts: Counts, unit: float) -> Numbers:
    """The numbers; one empty where the question is refused."""
    try:
        return compute(counts, unit)
    except EstimateError:
        return [None]


@pytest.mark.parametrize("name", [*BOUNDED, *EXACT])
@given(lives=LIVES, told=st.sampled_from(list(TOLD)))
def test_the_answer_does_not_depend_on_the_telling(name: str, lives: list[Life], told: str) -> None:
    compute, reach = (BOUNDED | EXACT)[name]
    table = table_of(lives, exact=name in EXACT)
    again, unit = TOLD[told]
    ours = answer(compute, counts_of(table), 1.0)
    theirs = answer(compute, counts_of(again(table), unit), unit)
    assert ours == [None if x is None else pytest.approx(x, rel=reach, abs=reach) for x in theirs]


def watched(n: int) -> pl.DataFrame:
    """Lives entered late, watched for five years."""
    rng = np.random.default_rng(1)
    entry, life = rng.uniform(0, 4, n), 6 * rng.weibull(2, n) + 0.2
    end = np.minimum(np.maximum(life, entry + 0.1), entry + 5)
    upper = np.where((life > entry) & (life < entry + 5), end, np.inf)
    return pl.DataFrame({"entry": entry, "lower": end, "upper": upper, "count": 1.0})


@pytest.mark.parametrize("told", TOLD)
def test_profile_limits_do_not_depend_on_the_telling(told: str) -> None:
    again, unit = TOLD[told]
    ours = fit(counts_of(watched(40)), 1.0, method="profile")
    theirs = fit(counts_of(again(watched(40)), unit), unit, method="profile")
    assert ours == pytest.approx(theirs, rel=1e-6)


@pytest.mark.parametrize("told", TOLD)
def test_rivals_do_not_depend_on_the_telling(told: str) -> None:
    """How far they stand above the Weibull stays the same, however flat the search."""
    again, unit = TOLD[told]
    once, otherwise = counts_of(watched(60)), counts_of(again(watched(60)), unit)
    for curve in (gamma_2, generalised_gamma_3, never_fails_3, weibull_3):
        ours, theirs = (
            curve(c).log_likelihood - weibull_2(c).log_likelihood for c in (once, otherwise)
        )
        assert ours == pytest.approx(theirs, abs=1e-4)
