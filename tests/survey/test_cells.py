"""Cells are put together until each has answers enough, and no further than that."""

import numpy as np
import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from wornby.survey.cells import LEAST_ANSWERS, crossed, grouped, joined_versions, runs
from wornby.survey.weighting import rake

counts = st.lists(
    st.tuples(st.sampled_from([0, 1, 20, 60, 300]), st.integers(0, 9)), min_size=6, max_size=36
).map(
    lambda cells: pl.DataFrame(
        [
            (2003 + n // 3, ("short", "long", "high-roof")[n % 3], float(there), min(seen, there))
            for n, (there, seen) in enumerate(cells)
            if there
        ],
        schema={
            "model_year": pl.Int32,
            "version": pl.String,
            "on_the_road": pl.Float64,
            "answered": pl.Int64,
        },
        orient="row",
    )
)


"""Model years and versions with vehicles on the road; not every year has every version."""


def enough(frame: pl.DataFrame) -> bool:
    return frame["answered"].sum() >= LEAST_ANSWERS


def test_a_version_that_many_answered_stays_by_itself() -> None:
    assert joined_versions({"short": 5, "long": 6}) == {"short": "short", "long": "long"}


def test_versions_join_until_all_have_answers_enough() -> None:
    joined = joined_versions({"a": 1, "b": 1, "c": 2, "d": 9})
    assert joined == dict.fromkeys("abcd", "a or b or c or d")


def test_a_version_that_nobody_answered_for_joins_another() -> None:
    assert joined_versions({"short": 9, "long": 0, "high-roof": 6})["long"] == "high-roof or long"


def test_a_version_not_built_yet_holds_no_model_year_up() -> None:
    """The high-roof came with the third model year."""
    answered = np.array([[6.0, 0.0], [7.0, 0.0], [8.0, 5.0]])
    there = np.array([[90.0, 0.0], [90.0, 0.0], [90.0, 40.0]])
    assert runs(answered, there, least_in_cell=5).tolist() == [0, 1, 2]


def test_too_few_at_the_end_go_with_the_run_before() -> None:
    answered, there = np.array([[6.0], [7.0], [2.0]]), np.full((3, 1), 90.0)
    assert runs(answered, there, least_in_cell=1).tolist() == [0, 1, 1]


@given(counts.filter(enough))
def test_every_cell_shown_has_answers_enough(frame: pl.DataFrame) -> None:
    shown = grouped(frame).group_by("shown_group", "version_group").agg(pl.col("answered").sum())
    assert (shown["answered"] >= LEAST_ANSWERS).all()


@given(counts.filter(enough))
def test_every_cell_weighted_has_an_answer_and_every_group_enough(frame: pl.DataFrame) -> None:
    made = grouped(frame)
    cells = made.group_by("weight_group", "version_group").agg(pl.col("answered").sum())
    assert (cells["answered"] >= 1).all()
    for group in ("weight_group", "version_group"):
        sums = made.group_by(group).agg(pl.col("answered").sum())["answered"]
        assert (sums >= LEAST_ANSWERS).all()


@given(counts.filter(enough))
def test_groups_are_runs_of_model_years_and_those_shown_hold_whole_ones(
    frame: pl.DataFrame,
) -> None:
    made = grouped(frame).sort("model_year")
    assert (made["weight_group"].diff().drop_nulls() >= 0).all()
    assert (
        made.group_by("weight_group").agg(pl.col("shown_group").n_unique())["shown_group"].to_list()
        == [1] * made["weight_group"].n_unique()
    )
    assert made["answered"].sum() == frame["answered"].sum()


@given(counts.filter(enough))
def test_raking_to_the_groups_always_settles(frame: pl.DataFrame) -> None:
    """Every cell with vehicles has an answer, and the vehicles' own table has the margins."""
    made = grouped(frame)
    answered, known = (
        crossed(made, "weight_group", "version_group", what) for what in ("answered", "on_the_road")
    )
    raked = rake(answered, [known.sum(axis=1), known.sum(axis=0)])
    assert ((raked.weights > 0) == (known > 0)).all()
