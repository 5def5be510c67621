"""Cox and accelerated life, against lifelines where it can do the same.

Agreement with R, errors by vehicle included, is in tests/published/.
"""

import numpy as np
import polars as pl
import pytest
from lifelines import CoxPHFitter, WeibullAFTFitter

from wornby.curves.accelerated import accelerated_life
from wornby.curves.likelihood import LOGNORMAL
from wornby.curves.proportional_hazards import cox
from wornby.errors import EstimateError


def lives(n: int, seed: int, *, late: bool = True) -> pl.DataFrame:
    """Parts of two grades and a wear number, some of one vehicle; cheap ones last 0.6 as long."""
    rng = np.random.default_rng(seed)
    cheap, use = rng.random(n) < 0.5, rng.normal(size=n)
    entry = np.round(rng.uniform(0, 3, n) * late, 1)
    life = np.round(8 * np.where(cheap, 0.6, 1.0) * np.exp(-0.2 * use) * rng.weibull(2, n), 1) + 0.1
    stop = entry + np.round(rng.uniform(2, 9, n), 1)
    end = np.round(np.minimum(life, stop), 1)
    frame = pl.DataFrame(
        {
            "vehicle": rng.integers(0, n // 2, n),
            "entry": entry,
            "lower": end,
            "upper": np.where(life > stop, np.inf, end),
            "count": 1.0,
            "grade": np.where(cheap, "cheap", "a genuine one"),
            "use": use,
        }
    )
    return frame.filter(pl.col("lower") > pl.col("entry"))


def for_lifelines(frame: pl.DataFrame) -> object:
    failed = pl.col("upper").is_finite().cast(pl.Int64)
    cheap = (pl.col("grade") == "cheap").cast(pl.Float64)
    return frame.select("entry", "lower", "use", failed=failed, cheap=cheap).to_pandas()


@pytest.mark.parametrize("late", [False, True])
def test_cox_agrees_with_lifelines(late: bool) -> None:
    frame = lives(250, 1, late=late)
    theirs = CoxPHFitter().fit(for_lifelines(frame), "lower", "failed", entry_col="entry")
    ours = cox(frame, ["grade", "use"], confidence=0.9)
    ratios = dict(zip(ours.table["column"], ours.table["ratio"], strict=True))
    assert ratios["grade: cheap"] == pytest.approx(np.exp(theirs.params_["cheap"]), rel=1e-4)
    assert ratios["use"] == pytest.approx(np.exp(theirs.params_["use"]), rel=1e-4)
    assert np.sqrt(np.diag(ours.naive)) == pytest.approx(
        theirs.standard_errors_[["cheap", "use"]].to_numpy(), rel=1e-3
    )


def test_accelerated_life_agrees_with_lifelines() -> None:
    frame = lives(250, 2)
    theirs = WeibullAFTFitter().fit(for_lifelines(frame), "lower", "failed", entry_col="entry")
    ours = accelerated_life(frame, ["grade", "use"], confidence=0.9)
    coefs = theirs.params_["lambda_"]
    wanted = np.exp(coefs[["cheap", "use"]].to_numpy())
    assert ours.table["factor"].to_numpy() == pytest.approx(wanted, rel=1e-4)
    errors = theirs.standard_errors_["lambda_"][["cheap", "use"]].to_numpy()
    assert ours.table["naive_std_err"].to_numpy() == pytest.approx(errors, rel=1e-3)


def test_counts_equal_repeated_rows() -> None:
    frame = lives(80, 3).with_columns(count=pl.lit(2.0))
    twice = pl.concat([frame, frame]).with_columns(count=pl.lit(1.0))
    for compare in (cox, accelerated_life):
        once, repeated = (compare(f, ["grade", "use"], confidence=0.9) for f in (frame, twice))
        assert once.table["lower"].to_numpy() == pytest.approx(
            repeated.table["lower"].to_numpy(), rel=1e-7
        )


def test_failures_that_count_in_part_agree_with_r() -> None:
    """Computed by R only: survival's coxph with case weights of a half and one, cluster, Efron."""
    frame = lives(120, 7)
    halves = pl.Series(np.random.default_rng(8).choice([0.5, 1.0], frame.height))
    at = pl.col("lower").round(0) + 0.5
    frame = frame.with_columns(
        count=halves,
        lower=at,
        upper=pl.when(pl.col("upper").is_finite()).then(at).otherwise(np.inf),
    ).filter(pl.col("lower") > pl.col("entry"))
    found = cox(frame, ["grade", "use"], confidence=0.9)
    ratios = np.log(found.table["ratio"].to_numpy())
    assert ratios == pytest.approx([0.88692077, 0.28894094], abs=1e-7)
    assert found.table["std_err"].to_numpy() == pytest.approx([0.20698716, 0.12031493], abs=1e-7)
    naive = found.table["naive_std_err"].to_numpy()
    assert naive == pytest.approx([0.28533720, 0.14731663], abs=1e-7)
    assert found.log_likelihood == pytest.approx(-198.9853487, abs=1e-6)


def test_a_half_of_every_life_tells_the_same_less_surely() -> None:
    frame = lives(120, 9)
    whole, half = (
        cox(frame.with_columns(count=pl.lit(count)), ["use"], confidence=0.9)
        for count in (1.0, 0.5)
    )
    assert half.table["ratio"][0] == pytest.approx(whole.table["ratio"][0])
    assert half.table["std_err"][0] == pytest.approx(whole.table["std_err"][0])
    assert half.naive[0, 0] == pytest.approx(2 * whole.naive[0, 0])
    statistics = (one.proportional["statistic"][0] for one in (half, whole))
    assert next(statistics) == pytest.approx(next(statistics) / 2)


def test_bounds_recover_the_factor() -> None:
    """Failures known to the year only: the factor is still 0.6."""
    frame = lives(4000, 4, late=False)
    ended = pl.col("upper").is_finite()
    floor, ceiling = pl.col("lower").floor(), pl.col("lower").floor() + 1
    yearly = frame.with_columns(
        upper=pl.when(ended).then(ceiling).otherwise("upper"),
        lower=pl.when(ended).then(floor).otherwise("lower"),
    )
    table = accelerated_life(yearly, ["grade", "use"], confidence=0.9).table
    assert table["factor"][0] == pytest.approx(0.6, rel=0.05)
    lognormal = accelerated_life(yearly, ["grade", "use"], confidence=0.9, family=LOGNORMAL)
    assert lognormal.table["factor"][0] == pytest.approx(0.6, rel=0.1)


def test_ratios_that_fade_with_age_are_noticed() -> None:
    rng = np.random.default_rng(5)
    early = rng.random(800) < 0.5
    life = np.where(early, 6 * rng.weibull(0.8, 800), 6 * rng.weibull(3, 800)) + 0.01
    frame = pl.DataFrame({"vehicle": np.arange(800), "entry": 0.0, "lower": life, "upper": life})
    frame = frame.with_columns(count=pl.lit(1.0), early=pl.Series(early))
    assert cox(frame, ["early"], confidence=0.9).proportional["p_value"][0] < 0.001


def test_refuses_what_says_nothing() -> None:
    frame = lives(60, 6)
    with pytest.raises(EstimateError, match="no failure"):
        cox(frame.with_columns(upper=pl.lit(np.inf)), ["use"], confidence=0.9)
    with pytest.raises(EstimateError, match="no failure"):
        accelerated_life(frame.with_columns(upper=pl.lit(np.inf)), ["use"], confidence=0.9)
    with pytest.raises(EstimateError, match="nothing varies"):
        cox(frame.with_columns(grade=pl.lit("one")), ["grade"], confidence=0.9)
    only_cheap_fails = frame.with_columns(
        upper=pl.when(pl.col("grade") == "cheap").then("upper").otherwise(float("inf"))
    )
    for compare in (cox, accelerated_life):
        with pytest.raises(EstimateError, match="runs away"):
            compare(only_cheap_fails, ["grade"], confidence=0.9)


def test_a_column_s_unit_changes_its_effect_only() -> None:
    """A wear number told in other units compares the same lives."""
    frame = lives(150, 7)
    for compare in (cox, accelerated_life):
        plain = compare(frame, ["grade", "use"], confidence=0.9).table
        for unit in (1e-2, 1e8):
            other = compare(
                frame.with_columns(pl.col("use") * unit), ["grade", "use"], confidence=0.9
            ).table
            assert np.log(other[1, 1]) * unit == pytest.approx(np.log(plain[1, 1]), rel=1e-7)
            assert other["p_value"].to_list() == pytest.approx(plain["p_value"].to_list())
            assert other[0, "upper"] == pytest.approx(plain[0, "upper"], rel=1e-7)


def test_a_million_failures_at_one_age_are_no_slower_and_no_other() -> None:
    """Efron's steps in blocks: the ratio of a thousand of each life is that of a million."""
    frame = (
        lives(60, 8)
        .with_columns(pl.col("lower").ceil())
        .with_columns(upper=pl.when(pl.col("upper").is_finite()).then("lower").otherwise("upper"))
    )
    thousand, million = (
        cox(frame.with_columns(count=pl.lit(n)), ["grade", "use"], confidence=0.9)
        for n in (1e3, 1e6)
    )
    assert million.table["ratio"].to_list() == pytest.approx(
        thousand.table["ratio"].to_list(), rel=1e-3
    )


def test_failures_at_one_age_say_nothing_of_whether_ratios_stay() -> None:
    frame = lives(60, 9).filter(pl.col("entry") < 3)
    tied = frame.with_columns(
        lower=pl.lit(3.0),
        upper=pl.when(pl.col("upper").is_finite()).then(pl.lit(3.0)).otherwise("upper"),
    )
    assert cox(tied, ["use"], confidence=0.9).proportional["p_value"].to_list() == [None]


WRONG: dict[str, dict[str, object]] = {
    "the watch ends before it begins": {"entry": 99.0},
    "an age is negative": {"lower": -1.0, "upper": -1.0},
    "an age is missing or not a number": {"lower": np.nan},
    "a count is not positive": {"count": 0.0},
    "rows name no vehicle": {"vehicle": None},
    "values are missing": {"grade": None},
    "not a finite number": {"use": np.inf},
}


@pytest.mark.parametrize("why", WRONG)
def test_each_wrong_value_is_named(why: str) -> None:
    frame = lives(40, 10)
    first = pl.int_range(pl.len()) == 0
    wrong = frame.with_columns(
        pl.when(first).then(pl.lit(value, dtype=frame[name].dtype)).otherwise(name).alias(name)
        for name, value in WRONG[why].items()
    )
    for compare in (cox, accelerated_life):
        with pytest.raises(EstimateError, match=why):
            compare(wrong, ["grade", "use"], confidence=0.9)


def test_a_column_that_is_not_there_is_named() -> None:
    for compare in (cox, accelerated_life):
        with pytest.raises(ValueError, match="no column climate"):
            compare(lives(40, 11), ["climate"], confidence=0.9)
