"""Agreement with R on fifty random data sets: survival, npsurv, survey (R only: computed).

R's answers are kept in r/answers.csv, so that R need not be installed. Where it is, the last
test asks it again.
"""

import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from numpy.typing import ArrayLike, NDArray

from wornby.curves.accelerated import accelerated_life
from wornby.curves.competing import cumulative_incidence
from wornby.curves.groups import log_rank
from wornby.curves.intervals import turnbull
from wornby.curves.location_scale import log_logistic, lognormal
from wornby.curves.nonparametric import kaplan_meier, nelson_aalen
from wornby.curves.parametric import weibull
from wornby.curves.proportional_hazards import CoxFit, cox
from wornby.curves.robust_bands import kaplan_meier_by_vehicle
from wornby.curves.vehicles import counts_by_vehicle
from wornby.histories.counts import Counts
from wornby.ledger import Ledger
from wornby.survey.cells import crossed
from wornby.survey.replicates import replicate_weights, reraked
from wornby.survey.weighted import WeightedSurvey
from wornby.survey.weighting import rake

from .make_r_answers import ask
from .r_worlds import SEEDS, world

ANSWERS = pl.read_csv(Path(__file__).parent / "r" / "answers.csv")
AGES = np.array([2.0, 4.0, 6.0, 8.0])
FIRST = "from the first watched"


def counts_of(frame: pl.DataFrame) -> Counts:
    return Counts(frame.select("entry", "lower", "upper", "count"), "years", "world", "as watched")


def watched(seed: int, *, late: bool = True, single: bool = False) -> pl.DataFrame:
    """The data set with exact ages; from new, or each row once, where R was asked so."""
    upper = pl.when("failed").then("exit").otherwise(float("inf"))
    frame = world(seed).with_columns(lower=pl.col("exit"), upper=upper)
    frame = frame if late else frame.with_columns(entry=pl.lit(0.0))
    return frame.with_columns(count=pl.lit(1.0)) if single else frame


def to_the_year(seed: int) -> pl.DataFrame:
    """Failures known to the year only."""
    frame, failed = watched(seed, late=False), pl.col("failed")
    return frame.with_columns(
        lower=pl.when(failed).then(pl.col("exit").floor()).otherwise("exit"),
        upper=pl.when(failed).then(pl.col("exit").floor() + 1).otherwise(float("inf")),
    )


def one_look(seed: int) -> pl.DataFrame:
    """Failed or not at one look."""
    failed = pl.col("exit") <= pl.col("looked")
    return watched(seed, late=False).with_columns(
        lower=pl.when(failed).then(0.0).otherwise("looked"),
        upper=pl.when(failed).then("looked").otherwise(float("inf")),
    )


def two_looks(seed: int) -> ArrayLike:
    """Failed before the first look, between the two, or after; survival at an age R chose."""
    first, second, life = pl.col("looked"), pl.col("looked") + 2, pl.col("exit")
    frame = watched(seed, late=False).with_columns(
        lower=pl.when(life <= first).then(0.0).when(life <= second).then(first).otherwise(second),
        upper=pl.when(life <= first)
        .then(first)
        .when(life <= second)
        .then(second)
        .otherwise(float("inf")),
    )
    age = ANSWERS.filter(seed=seed, name="turnbull.twice", place=1)["value"][0]
    return np.array([age, *turnbull(counts_of(frame)).survival([age])])


def std_err(table: pl.DataFrame) -> NDArray[np.float64]:
    """The standard error of the last step at each age."""
    last = np.searchsorted(table["age"].to_numpy(), AGES, side="right")
    steps = table["std_err"].fill_null(0.0).to_numpy()
    return np.append(0.0, steps)[last]


def robust_std_err(seed: int) -> ArrayLike:
    by = counts_by_vehicle(
        watched(seed, single=True), unit="years", what="world", rule="as watched"
    )
    return std_err(kaplan_meier_by_vehicle(by, confidence=0.95, early_rule=FIRST).table)


def two_grades(seed: int) -> float:
    frame = watched(seed, late=False, single=True)
    return log_rank({g: counts_of(frame.filter(grade=g)) for g in ("a", "b")}).statistic


def weibull_of(frame: pl.DataFrame) -> list[float]:
    curve = weibull(counts_of(frame))
    return [curve.shape, curve.scale, curve.log_likelihood]


def lognormal_of(seed: int) -> list[float]:
    curve = lognormal(counts_of(watched(seed, late=False)))
    return [curve.location, curve.spread, curve.log_likelihood]


def loglogistic_of(seed: int) -> list[float]:
    curve = log_logistic(counts_of(watched(seed, late=False)))
    return [curve.location, curve.spread, curve.log_likelihood]


def factors(seed: int) -> pl.DataFrame:
    lives = watched(seed, late=False, single=True)
    return accelerated_life(lives, ["grade", "use"], confidence=0.95).table


@cache
def ratios(seed: int) -> CoxFit:
    return cox(watched(seed, single=True), ["grade", "use"], confidence=0.95)


def endings(seed: int) -> pl.DataFrame:
    ending = pl.when(pl.col("ending") != "in service").then("ending")
    return world(seed).with_columns(ending=ending, count=pl.lit(1.0)).drop("vehicle")


def shares(seed: int) -> ArrayLike:
    found = cumulative_incidence(endings(seed), confidence=0.95)
    return np.concatenate([found.share(name, AGES) for name in ("failed", "renewed")])


def share_std_errs(seed: int) -> ArrayLike:
    found = cumulative_incidence(endings(seed), confidence=0.95)
    return np.concatenate([found.std_err(name, AGES) for name in ("failed", "renewed")])


@cache
def raked(seed: int) -> WeightedSurvey:
    """One answer a row, raked to a thousand by grade and by ending."""
    frame = world(seed)
    answered = crossed(frame.with_columns(one=pl.lit(1.0)), "grade", "ending", "one")
    by_cell = rake(answered, [[600, 400], [450, 250, 300]])
    return WeightedSurvey(
        answers=frame.select("use", weight_group="grade", version_group="ending"),
        cells=pl.DataFrame(),
        calendar_year=2024,
        effective_sample_size=float(frame.height),
        groups=(2, 3),
        raked=by_cell,
        on_the_road=pl.DataFrame(),
        ledger=Ledger("answers", frame.height, frame.height),
    )


def raked_weights(seed: int) -> ArrayLike:
    survey = raked(seed)
    weights = reraked(survey, np.ones((1, survey.answers.height)))[0]
    return np.asarray(weights[:10] * 1000 / weights.sum())


def raked_mean(seed: int) -> float:
    survey = raked(seed)
    weights = reraked(survey, np.ones((1, survey.answers.height)))[0]
    return float(np.average(survey.answers["use"].to_numpy(), weights=weights))


def log_scatter(seed: int) -> float:
    """The logarithm of the standard error by two thousand replicates."""
    survey = raked(seed)
    weights = replicate_weights(survey, rng=np.random.default_rng(seed), n=2_000)[1:]
    means = weights @ survey.answers["use"].to_numpy() / weights.sum(axis=1)
    return float(np.log(means.std()))


OURS: dict[str, tuple[Callable[[int], ArrayLike], float]] = {
    "km.survival": (
        lambda s: kaplan_meier(counts_of(watched(s)), confidence=0.95, early_rule=FIRST).survival(
            AGES
        ),
        1e-9,
    ),
    "km.std_err": (
        lambda s: std_err(
            kaplan_meier(counts_of(watched(s)), confidence=0.95, early_rule=FIRST).table
        ),
        1e-9,
    ),
    "km.hazard": (
        lambda s: nelson_aalen(
            counts_of(watched(s)), confidence=0.95, early_rule=FIRST
        ).cumulative_hazard(AGES),
        1e-9,
    ),
    "km.robust": (robust_std_err, 1e-9),
    "logrank": (two_grades, 1e-6),
    "weibull": (lambda s: weibull_of(watched(s, late=False)), 1e-6),
    "lognormal": (lognormal_of, 1e-6),
    "loglogistic": (loglogistic_of, 1e-6),
    "interval.weibull": (lambda s: weibull_of(to_the_year(s))[:2], 1e-6),
    "turnbull.isotonic": (lambda s: turnbull(counts_of(one_look(s))).survival(AGES), 1e-9),
    "turnbull.twice": (two_looks, 1e-4),
    "turnbull.npsurv": (two_looks, 1e-4),
    "aft.coef": (lambda s: np.log(factors(s)["factor"].to_numpy()), 1e-6),
    "aft.robust": (lambda s: factors(s)["std_err"].to_numpy(), 1e-6),
    "cox.coef": (lambda s: np.log(ratios(s).table["ratio"].to_numpy()), 1e-6),
    "cox.robust": (lambda s: ratios(s).table["std_err"].to_numpy(), 1e-6),
    "cox.naive": (lambda s: np.sqrt(np.diag(ratios(s).naive)), 1e-6),
    "cox.loglik": (lambda s: ratios(s).log_likelihood, 1e-6),
    "rake.weights": (raked_weights, 1e-6),
    "rake.mean": (raked_mean, 1e-6),
    "rake.log_std_err": (log_scatter, 0.15),
    "incidence": (shares, 1e-9),
    "incidence.std_err": (share_std_errs, 1e-6),
}


@pytest.mark.parametrize("name", OURS)
def test_agrees_with_r_on_every_data_set(name: str) -> None:
    compute, reach = OURS[name]
    for seed in SEEDS:
        theirs = ANSWERS.filter(seed=seed, name=name).sort("place")["value"].to_numpy()
        ours = np.atleast_1d(np.asarray(compute(seed), dtype=np.float64))
        assert ours == pytest.approx(theirs, rel=reach, abs=reach), f"seed {seed}"


def test_every_answer_is_compared() -> None:
    assert set(ANSWERS["name"]) == set(OURS)
    assert set(ANSWERS["seed"]) == set(SEEDS)


@pytest.mark.skipif(shutil.which("Rscript") is None, reason="Rscript is not installed")
def test_r_still_says_so(tmp_path: Path) -> None:
    again = ask(tmp_path, SEEDS[:4])
    kept = ANSWERS.filter(pl.col("seed").is_in(list(SEEDS[:4])))
    columns = ["seed", "name", "place"]
    both = again.join(kept, on=columns, suffix="_kept", how="full")
    assert both["value"].to_numpy() == pytest.approx(both["value_kept"].to_numpy(), rel=1e-7)
