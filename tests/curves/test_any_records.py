"""Whatever records a workshop may have, each estimator answers plainly or refuses plainly.

No NaN, no warning, no crash; pytest turns warnings into errors.
"""

from collections.abc import Callable

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wornby.curves.accelerated import accelerated_life
from wornby.curves.blend import age_or_distance
from wornby.curves.bootstrap import weibull_bootstrap
from wornby.curves.competing import cumulative_incidence
from wornby.curves.contrasts import mean_life_difference, pairwise_log_rank, share_failed_difference
from wornby.curves.few_failures import weibull_posterior
from wornby.curves.given_shape import weibayes
from wornby.curves.goodness_of_fit import plot_places
from wornby.curves.groups import log_rank
from wornby.curves.intervals import turnbull
from wornby.curves.likelihood import WEIBULL
from wornby.curves.location_scale import log_logistic, lognormal
from wornby.curves.nonparametric import kaplan_meier, nelson_aalen
from wornby.curves.parametric import weibull
from wornby.curves.pooling import pooled_groups
from wornby.curves.profile import b_life, chance_within, scale_interval, shape_interval
from wornby.curves.proportional_hazards import cox
from wornby.curves.recurrence import mean_cumulative_function
from wornby.curves.rival_table import rivals
from wornby.curves.robust_bands import kaplan_meier_by_vehicle
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.curves.trend import laplace, military_handbook
from wornby.curves.uncertainty import Estimate
from wornby.curves.vehicles import VehicleCounts, counts_by_vehicle
from wornby.errors import EstimateError, HistoryError
from wornby.histories.counts import Counts

AGE = st.one_of(
    st.integers(0, 6).map(float),
    st.floats(1e-3, 1e3, allow_nan=False).map(lambda x: round(x, 6)),
)
LIFE = st.tuples(
    AGE, AGE, AGE, st.sampled_from(["exact", "in service", "bounded"]), st.integers(1, 4)
)
RECORDS = st.lists(LIFE, min_size=1, max_size=12)


def answered_or_refused(attempt: Callable[[], None]) -> None:
    """Run it; a refusal must be of our own kinds and say what is wrong in one line."""
    refusal = ""
    try:
        attempt()
    except (EstimateError, HistoryError, ValueError) as refused:
        refusal = str(refused)
    assert "\n" not in refusal
    assert "not found" not in refusal


def lives_of(records: list[tuple[float, float, float, str, int]], *, exact: bool) -> pl.DataFrame:
    """A frame of possible lives: ages in order, nobody ends as watching begins."""
    rows = []
    for i, (a, b, c, drawn, count) in enumerate(records):
        entry, lower, upper = sorted((a, b, c))
        kind = "exact" if exact and drawn == "bounded" else drawn
        if kind == "exact" and lower > entry:
            rows.append((i % 4, entry, lower, lower, count))
        elif kind == "in service":
            rows.append((i % 4, entry, lower, np.inf, count))
        elif upper > lower:
            rows.append((i % 4, entry, lower, np.inf if exact else upper, count))
    schema = ["vehicle", "entry", "lower", "upper", "count"]
    frame = pl.DataFrame(rows, schema=schema, orient="row", infer_schema_length=None)
    return frame.cast(dict.fromkeys(schema[1:], pl.Float64))


def counts_of(frame: pl.DataFrame) -> Counts:
    return Counts(frame.drop("vehicle"), unit="years", what="any part", rule="as watched")


def sound(estimate: Estimate) -> None:
    """Limits around the value, none of them NaN."""
    told = [x for x in (estimate.lower, estimate.value, estimate.upper) if x is not None]
    assert not np.isnan(told).any()
    assert told == sorted(told)


def check_table(table: pl.DataFrame) -> None:
    for column in table.select(pl.selectors.float()):
        assert not column.is_nan().any(), column.name


def check_weibull(counts: Counts) -> None:
    curve = weibull(counts)
    assert np.isfinite([curve.shape, curve.scale, curve.log_likelihood]).all()
    for method in ("profile", "wald"):
        for asked in (shape_interval, scale_interval):
            sound(asked(curve, confidence=0.9, method=method))
        sound(b_life(curve, 0.1, confidence=0.9, method=method))
        sound(chance_within(curve, age=3.0, horizon=1.0, confidence=0.9, method=method))


def check_posterior(counts: Counts) -> None:
    posterior = weibull_posterior(counts, prior=CAR_COMPONENT)
    sound(posterior.b_life(0.1, confidence=0.9))
    sound(posterior.chance_within(age=3.0, horizon=1.0, confidence=0.9))
    draws = posterior.draws(np.random.default_rng(1), 50)
    assert np.isfinite(draws.shape).all()
    assert np.isfinite(draws.scale).all()


def check_steps(counts: Counts) -> None:
    curve = kaplan_meier(counts, confidence=0.9)
    check_table(curve.table)
    check_table(nelson_aalen(counts, confidence=0.9).table)
    sound(curve.median)
    sound(curve.restricted_mean(curve.begins_at + 5.0))


def check_turnbull(counts: Counts) -> None:
    curve = turnbull(counts)
    check_table(curve.table)
    assert curve.violation < 1e-6
    check_table(plot_places(counts, WEIBULL))


def check_given_shape(counts: Counts) -> None:
    sound(weibayes(counts, shape=2.0).b_life(0.1, confidence=0.9))


def check_others(counts: Counts) -> None:
    for fit in (lognormal, log_logistic):
        assert np.isfinite(fit(counts).log_likelihood)


ALONE: dict[str, Callable[[Counts], None]] = {
    "weibull": check_weibull,
    "posterior": check_posterior,
    "steps": check_steps,
    "turnbull": check_turnbull,
    "given shape": check_given_shape,
    "other curves": check_others,
}


@pytest.mark.parametrize("name", ALONE)
@given(records=RECORDS, exact=st.booleans())
def test_one_set_of_counts(
    name: str, records: list[tuple[float, float, float, str, int]], exact: bool
) -> None:
    counts = counts_of(lives_of(records, exact=exact))
    answered_or_refused(lambda: ALONE[name](counts))


def compare_groups(a: pl.DataFrame, b: pl.DataFrame) -> None:
    groups = {"a": counts_of(a), "b": counts_of(b)}
    tries: list[Callable[[], None]] = [
        lambda: check_table(log_rank(groups).table),
        lambda: check_table(pairwise_log_rank(groups)),
        lambda: sound(mean_life_difference(groups, until=900.0, confidence=0.9)[0]),
        lambda: sound(share_failed_difference(groups, age=3.0, confidence=0.9)[0]),
        lambda: check_table(
            pooled_groups(groups, share=0.1, confidence=0.9, prior=CAR_COMPONENT).table
        ),
    ]
    for attempt in tries:
        answered_or_refused(attempt)


@given(first=RECORDS, second=RECORDS)
def test_two_groups(
    first: list[tuple[float, float, float, str, int]],
    second: list[tuple[float, float, float, str, int]],
) -> None:
    compare_groups(lives_of(first, exact=True), lives_of(second, exact=True))


@given(records=RECORDS, exact=st.booleans())
def test_lives_by_vehicle(records: list[tuple[float, float, float, str, int]], exact: bool) -> None:
    lives = lives_of(records, exact=exact)
    grade = pl.int_range(pl.len()) % 2 == 0
    columns = lives.with_columns(grade=grade.cast(pl.String), use=pl.col("lower") % 3)
    ending = pl.when(pl.col("upper").is_finite()).then(pl.lit("failed"))
    ends = lives.rename({"lower": "exit"}).with_columns(ending=ending)
    tries: list[Callable[[], None]] = [
        lambda: check_table(cox(columns, ["grade", "use"], confidence=0.9).table),
        lambda: check_table(accelerated_life(columns, ["grade", "use"], confidence=0.9).table),
        lambda: check_table(cumulative_incidence(ends, confidence=0.9).table),
        lambda: check_table(kaplan_meier_by_vehicle(by_vehicle(lives), confidence=0.9).table),
        lambda: sound(
            weibull_bootstrap(by_vehicle(lives), rng=np.random.default_rng(1), n=20).b_life(
                0.1, confidence=0.9
            )
        ),
    ]
    for attempt in tries:
        answered_or_refused(attempt)


def by_vehicle(lives: pl.DataFrame) -> VehicleCounts:
    return counts_by_vehicle(lives, unit="years", what="any part", rule="as watched")


@given(st.lists(st.tuples(st.integers(0, 3), AGE, st.booleans()), max_size=12))
def test_any_history_of_repeat_failures(rows: list[tuple[int, float, bool]]) -> None:
    frame = pl.DataFrame(
        rows,
        schema={"vehicle": pl.Int64, "age": pl.Float64, "failed": pl.Boolean},
        orient="row",
    )

    def follow() -> None:
        check_table(mean_cumulative_function(frame, confidence=0.9).table)
        for test in (laplace, military_handbook):
            assert 0 <= test(frame).p_value <= 1

    answered_or_refused(follow)


@settings(max_examples=settings().max_examples // 6)
@given(records=RECORDS)
def test_rivals_of_any_counts(records: list[tuple[float, float, float, str, int]]) -> None:
    counts = counts_of(lives_of(records, exact=False))
    answered_or_refused(lambda: check_table(rivals(counts)[0]))


@settings(max_examples=settings().max_examples // 4)
@given(st.lists(st.tuples(AGE, AGE, AGE, AGE, st.booleans()), min_size=1, max_size=10))
def test_age_or_distance_of_any_lives(
    rows: list[tuple[float, float, float, float, bool]],
) -> None:
    frame = pl.DataFrame(
        [(*sorted((a, b)), *sorted((c, d)), f, 1.0) for a, b, c, d, f in rows],
        schema=["entry_years", "exit_years", "entry_mi", "exit_mi", "failed", "count"],
        orient="row",
    )

    def compare() -> None:
        found = age_or_distance(frame, confidence=0.9)
        check_table(found.table)
        assert 0 <= found.lower <= found.distance_weight <= found.upper <= 1

    answered_or_refused(compare)
