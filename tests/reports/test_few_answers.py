"""Renewed parts of which few have failed, by the prior and by the originals' shape."""

import numpy as np
import polars as pl

from wornby.reports.few_answers import few_failures_answer
from wornby.reports.workshop import Workshop


def test_few_failures_have_wide_answers_and_none_a_bound(demo: Workshop) -> None:
    told = few_failures_answer(demo).frame
    assert (told["failures"] < 5).all()
    none = told.filter(pl.col("failures") == 0)
    assert none["b10_value"].is_null().all()
    assert none["weibayes_b10_value"].is_null().all()
    assert none["weibayes_b10_upper"].is_infinite().all()
    assert none["weibayes_b10_lower"].is_finite().all()


def test_a_given_shape_leaves_less_open_than_a_prior_on_the_whole(demo: Workshop) -> None:
    told = few_failures_answer(demo).frame.filter(pl.col("failures") >= 2)
    by_prior, by_shape = (
        np.log(told[f"{name}_upper"].to_numpy() / told[f"{name}_lower"].to_numpy())
        for name in ("b10", "weibayes_b10")
    )
    assert by_prior.mean() > by_shape.mean()
