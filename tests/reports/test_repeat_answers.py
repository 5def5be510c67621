"""Trends and comebacks of the demo, against its truth."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy.stats import norm

from wornby.errors import EstimateError
from wornby.reports.answer import ALL
from wornby.reports.repeat_answers import comeback_answer, trend_answer
from wornby.reports.workshop import Workshop

TRUTH = pl.read_csv(Path(__file__).parents[2] / "data_demo" / "truth" / "lives.csv")


def test_parts_that_wear_fail_faster_as_the_vehicles_age(demo: Workshop) -> None:
    """The demo's truth: every original part has a shape above 1; none gets better with age."""
    frame = trend_answer(demo).frame
    together = frame.row(by_predicate=pl.col("component") == ALL, named=True)
    assert together["verdict"] == "faster with time"
    assert not frame["verdict"].str.contains("slower").any()


def test_a_score_stands_beside_its_own_p_value(demo: Workshop) -> None:
    """A score of 1.66 is p = 0.097, two-sided (standard normal); what it is held to is more."""
    answer = trend_answer(demo)
    for row, told in zip(answer.frame.to_dicts(), answer.people.to_dicts(), strict=True):
        p = 2 * norm.sf(abs(row["laplace_score"]))
        assert row["laplace_p_value"] == pytest.approx(p)
        assert row["laplace_p_value_held"] >= row["laplace_p_value"]
        assert told["Laplace: p"] == (f"{p:.3f}" if p >= 0.001 else "below 0.001")


def test_all_together_is_the_sum_of_the_components(demo: Workshop) -> None:
    frame = trend_answer(demo).frame
    alone, together = (
        frame.filter(which) for which in (pl.col("component") != ALL, pl.col("component") == ALL)
    )
    assert alone["failures_within"].sum() == together["failures_within"].item()
    weighted = (alone["laplace_score"] * alone["failures_within"].sqrt()).sum()
    score = weighted / np.sqrt(together["failures_within"].item())
    assert together["laplace_score"].item() == pytest.approx(score)
    assert alone["component"].to_list() == list(demo.catalogue.components)


def test_cheap_copies_come_back_as_often_as_they_were_made_to(demo: Workshop) -> None:
    """Age-worn aftermarket parts, failed within 24 months; by chance one in ten lies outside."""
    truth = TRUTH.filter(
        (pl.col("grade") == "aftermarket")
        & (pl.col("origin") == "renewed")
        & (pl.col("scale") == "age")
    )
    frame = comeback_answer(demo).frame.join(truth, on=["component", "grade"])
    failed = -np.expm1(-((2 / frame["scale_value"].to_numpy()) ** frame["shape"].to_numpy()))
    inside = (frame["share_24_months_lower"] <= failed) & (frame["share_24_months_upper"] >= failed)
    assert frame.height >= 8
    assert inside.sum() >= frame.height - 3


def test_of_parts_that_never_came_back_a_bound_is_told(demo: Workshop) -> None:
    answer = comeback_answer(demo)
    never = answer.frame.filter(pl.col("failures_3_months") == 0)
    followed = never["at_risk_3_months"].to_numpy()
    bound = 1 - 0.1 ** (1 / np.maximum(followed, 1))
    assert never["share_3_months_upper"].to_numpy() == pytest.approx(bound)
    assert never["share_3_months_value"].is_null().all()
    row = answer.people.row(0, named=True)
    assert "within 24 months" in row


def test_what_was_never_renewed_is_said(demo: Workshop) -> None:
    table = demo.episodes.table
    renewed = pl.col("origin") == "renewed"
    kept = table.filter(~(renewed & (pl.col("component") == "thermostat")))
    told = comeback_answer(replace(demo, episodes=replace(demo.episodes, table=kept)))
    row = told.people.row(by_predicate=pl.col("component") == "thermostat", named=True)
    assert row["note"] == "no renewed part watched"
    originals = replace(demo.episodes, table=table.filter(~renewed))
    with pytest.raises(EstimateError, match="no renewed part was watched"):
        comeback_answer(replace(demo, episodes=originals))
