"""Partial pooling: a printed example, its two extremes, and better answers than either."""

import numpy as np
import polars as pl
import pytest
from scipy.stats import nbinom

from wornby.curves.parametric import weibull
from wornby.curves.pooling import common_belief, pooled_groups
from wornby.curves.profile import b_life
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

PUMP_FAILURES = np.array([5.0, 1, 5, 14, 3, 19, 1, 1, 4, 22])
PUMP_EXPOSURE = np.array([94.32, 15.72, 62.88, 125.76, 5.24, 31.44, 1.048, 1.048, 2.096, 10.48])


def version(scale: float, n: int, rng: np.random.Generator) -> Counts:
    life, stop = scale * rng.weibull(2.5, n), rng.uniform(3, 9, n)
    end = np.minimum(life, stop)
    upper = np.where(life > stop, np.inf, end)
    table = pl.DataFrame({"entry": 0.0 * end, "lower": end, "upper": upper, "count": 1.0})
    return Counts(table, unit="years", what="seal", rule="as watched")


def test_ten_pumps() -> None:
    """Gaver & O'Muircheartaigh (1987), Technometrics 29: gamma 0.82 and 1.26 (from memory)."""
    belief = common_belief(PUMP_FAILURES, PUMP_EXPOSURE)
    assert belief.failures == pytest.approx(0.82, abs=0.005)
    assert belief.exposure == pytest.approx(1.26, abs=0.005)


def test_no_other_gamma_is_likelier() -> None:
    belief = common_belief(PUMP_FAILURES, PUMP_EXPOSURE)

    def height(size: float, rate: float) -> float:
        share = rate / (rate + PUMP_EXPOSURE)
        return float(np.sum(nbinom.logpmf(PUMP_FAILURES, size, share)))

    best = height(belief.failures, belief.exposure)
    for by in (0.98, 1.02):
        assert height(belief.failures * by, belief.exposure) < best
        assert height(belief.failures, belief.exposure * by) < best


def test_versions_alike_are_drawn_together() -> None:
    rng = np.random.default_rng(2)
    found = pooled_groups(
        {str(i): version(8, 60, rng) for i in range(6)},
        share=0.1,
        confidence=0.9,
        prior=CAR_COMPONENT,
    )
    own, pooled = (np.log(found.table[c].to_numpy()).std() for c in ("own", "pooled"))
    assert found.spread < 0.3
    assert pooled < 0.75 * own
    assert found.shape == pytest.approx(2.5, rel=0.2)


def test_a_version_without_failures_gets_an_answer() -> None:
    rng = np.random.default_rng(3)
    idle = pl.DataFrame({"entry": [0.0], "lower": [4.0], "upper": [np.inf], "count": [3.0]})
    groups = {"short": version(8, 80, rng), "long": version(5, 80, rng)}
    groups["high-roof"] = Counts(idle, unit="years", what="seal", rule="as watched")
    row = pooled_groups(groups, share=0.1, confidence=0.9, prior=CAR_COMPONENT).table.row(
        2, named=True
    )
    assert row["own"] is None
    assert row["lower"] < row["pooled"] < row["upper"]
    assert row["pull"] > 0.5


def test_pooled_lives_are_nearer_the_truth_than_own_or_common() -> None:
    rng, errors = np.random.default_rng(4), np.zeros(3)
    for _ in range(30):
        scales = 8 * np.exp(rng.normal(0, 0.25, 8))
        groups = {str(i): version(s, 25, rng) for i, s in enumerate(scales)}
        found = pooled_groups(groups, share=0.1, confidence=0.9, prior=CAR_COMPONENT)
        truth = np.log(scales * (-np.log(0.9)) ** (1 / 2.5))
        own = found.table["own"].fill_null(found.common).to_numpy()
        common = np.full(8, found.common)
        for i, life in enumerate((found.table["pooled"].to_numpy(), own, common)):
            errors[i] += ((np.log(life) - truth) ** 2).mean()
    assert errors[0] < errors[1]
    assert errors[0] < errors[2]


def test_the_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """Versions alike or unlike, a mean rate learnt from three of them: its doubt is told, too."""
    rng, held = np.random.default_rng(6), []
    for spread in (0.0, 0.2) * 20:
        scales = 8 * np.exp(rng.normal(0, spread, 3))
        groups = {str(i): version(scale, 30, rng) for i, scale in enumerate(scales)}
        found = pooled_groups(groups, share=0.1, confidence=0.9, prior=CAR_COMPONENT).table
        truth = scales * (-np.log(0.9)) ** (1 / 2.5)
        held.append((found["lower"].to_numpy() < truth) & (truth < found["upper"].to_numpy()))
    assert np.mean(held) == pytest.approx(0.9, abs=0.06)


def test_alike_versions_are_not_surer_than_all_as_one() -> None:
    rng = np.random.default_rng(7)
    groups = {str(i): version(8, 60, rng) for i in range(3)}
    found = pooled_groups(groups, share=0.1, confidence=0.9, prior=CAR_COMPONENT).table
    whole = pl.concat([counts.table for counts in groups.values()])
    one = b_life(weibull(Counts(whole, "years", "seal", "as watched")), 0.1, confidence=0.9)
    assert one.lower is not None
    assert one.upper is not None
    widths = (found["upper"] - found["lower"]).to_numpy()
    assert (widths > 0.95 * (one.upper - one.lower)).all()


def test_refuses_one_group_and_no_failure() -> None:
    rng = np.random.default_rng(5)
    with pytest.raises(ValueError, match="at least two"):
        pooled_groups({"only": version(8, 20, rng)}, share=0.1, confidence=0.9, prior=CAR_COMPONENT)
    idle = pl.DataFrame({"entry": [0.0], "lower": [4.0], "upper": [np.inf], "count": [3.0]})
    none = Counts(idle, unit="years", what="seal", rule="as watched")
    with pytest.raises(EstimateError, match="nothing to pool"):
        pooled_groups({"a": none, "b": none}, share=0.1, confidence=0.9, prior=CAR_COMPONENT)


def test_refuses_a_share_that_is_none_and_mixed_units() -> None:
    rng = np.random.default_rng(6)
    years = version(8, 20, rng)
    miles = Counts(years.table, unit="miles", what="seal", rule="as watched")
    with pytest.raises(ValueError, match="wanted between 0 and 1"):
        pooled_groups({"a": years, "b": years}, share=1.5, confidence=0.9, prior=CAR_COMPONENT)
    with pytest.raises(ValueError, match="wanted one unit"):
        pooled_groups({"a": years, "b": miles}, share=0.1, confidence=0.9, prior=CAR_COMPONENT)
