"""Counts need not be whole, nor of one size: a shared failure counts half, a type a million."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.groups import log_rank
from wornby.curves.intervals import turnbull
from wornby.curves.nonparametric import kaplan_meier, nelson_aalen
from wornby.histories.counts import Counts


def counts_of(rows: list[tuple[float, float, float, float]]) -> Counts:
    table = pl.DataFrame(rows, schema=["entry", "lower", "upper", "count"], orient="row")
    return Counts(table.cast(pl.Float64), unit="years", what="bush", rule="as watched")


def test_tenths_that_add_up_to_all_end_the_curve_at_nought() -> None:
    """0.1 + 0.1 + 0.1 is not 0.3 in floating point, but three tenths at risk are three tenths."""
    counts = counts_of([(0, 2, 2, 0.1)] * 3 + [(0, 1, np.inf, 0.7), (0, 1, 1, 0.2)])
    curve = kaplan_meier(counts, confidence=0.9)
    assert curve.table["survival"].to_list() == [pytest.approx(1 - 0.2 / 1.2), 0]
    assert curve.table["std_err"][1] is None
    assert turnbull(counts).survival([2.0]).tolist() == pytest.approx([0], abs=1e-12)


@pytest.mark.parametrize("seed", range(8))
def test_counts_of_a_million_beside_a_hundredth(seed: int) -> None:
    """Turnbull's maximum is proven and is Kaplan-Meier; limits hold what they surround."""
    rng = np.random.default_rng(seed)
    n = 40
    entry = 8 * rng.uniform(0, 1, n) * (rng.random(n) < 0.7)
    end = entry + rng.uniform(0.2, 5, n)
    upper = np.where(rng.random(n) < 0.5, end, np.inf)
    count = rng.choice([1e6, 0.01, 1, 0.3, 0.1], n)
    counts = counts_of(list(zip(entry, end, upper, count, strict=True)))
    curve, steps = turnbull(counts), kaplan_meier(counts, confidence=0.9)
    assert curve.violation < 1e-6
    ages = np.linspace(steps.begins_at, 14, 40)
    if curve.begins_at == steps.begins_at:
        assert curve.survival(ages) == pytest.approx(steps.survival(ages), abs=1e-5)
    hazard = nelson_aalen(counts, confidence=0.9).table
    for table, value in ((steps.table, "survival"), (hazard, "cumulative_hazard")):
        known = table.drop_nulls()
        assert (known["lower"] <= known[value]).all()
        assert (known[value] <= known["upper"]).all()


def test_nobody_at_risk_is_nobody_whatever_the_weights() -> None:
    """The first group has left (in tenths) before the second fails: no comparison by rounding."""
    first = counts_of([(0, 1, 1, 0.1), (0, 1, np.inf, 0.1), (0, 1, np.inf, 0.1)])
    second = counts_of([(0, 2, 2, 0.3), (0, 5, np.inf, 0.7), (0, 1.0, np.inf, 0.1)])
    table = log_rank({"first": first, "second": second}).table
    assert table["expected"].to_list() == pytest.approx([0.1 * 0.3 / 1.4, 0.1 * 1.1 / 1.4 + 0.3])
