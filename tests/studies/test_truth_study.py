"""A short run of the truth study: three workshops in each of three worlds, two of them benign."""

import numpy as np
import polars as pl
import pytest
from scipy.special import gamma
from studies.truth import AVERAGE, COMPONENTS, answers, summary, truths, workshops
from studies.worlds import ASSUMPTIONS, WORLDS, Hostility

from wornby.demo.parameters import TRUE_LIVES
from wornby.histories.observation import RULES

SHORT = ("benign", "loyal few", "worn ones renewed early")
N = 3


def world(name: str) -> Hostility:
    return next(world for world in WORLDS if world.name == name)


@pytest.fixture(scope="module")
def table() -> pl.DataFrame:
    """The study's own table, in one process."""
    worlds = tuple(map(world, SHORT))
    asked = workshops(worlds, n=N, n_vehicles=300, new_vans=30_000, seed=3)
    return summary(pl.DataFrame([row for one in asked for row in answers(one)]))


def error(table: pl.DataFrame, name: str, rule: str) -> float:
    """The mean error of a rule in a world, over the components."""
    return float(np.mean(table.filter(world=name, rule=rule)["error"].to_numpy()))


def test_each_world_rule_and_component_has_a_row(table: pl.DataFrame) -> None:
    assert table.height == len(SHORT) * (len(RULES) + 1) * len(COMPONENTS)
    assert (table["workshops"] == N).all()
    assert table.filter(pl.col("rule") != AVERAGE)["fitted"].min() == 1.0


@pytest.mark.parametrize("name", ["benign", "loyal few"])
def test_the_default_rule_is_near_the_truth_where_its_assumptions_hold(
    table: pl.DataFrame, name: str
) -> None:
    """Within four standard errors of what twelve answers of some 12 % scatter leave."""
    assert error(table, name, "workshop") == pytest.approx(0.0, abs=4 * 0.12 / np.sqrt(12))


def test_the_naive_rule_is_far_from_it_even_there(table: pl.DataFrame) -> None:
    assert error(table, "benign", "naive: from new to the last visit") > 0.1
    assert error(table, "loyal few", "naive: from new to the close of records") > 0.5


def test_worn_parts_renewed_early_make_the_default_rule_hope_too_much(table: pl.DataFrame) -> None:
    name = "worn ones renewed early"
    assert error(table, name, "workshop") > error(table, "benign", "workshop") + 0.05
    assert error(table, name, "every renewal counts") < error(table, name, "workshop")


def test_the_intervals_of_the_default_rule_hold_more_often_than_the_naive_ones(
    table: pl.DataFrame,
) -> None:
    held = table.filter(world="benign").group_by("rule").agg(pl.col("held").mean())
    by_rule = dict(held.iter_rows())
    assert by_rule["workshop"] > 0.7
    assert by_rule["naive: from new to the close of records"] < 0.5
    assert by_rule[AVERAGE] is None


def test_the_truth_of_alike_vans_is_the_weibulls_own() -> None:
    """The Weibull's quantile and mean; 30,000 lives give them to about 1 %."""
    found = truths(world("benign"), np.random.default_rng(1), n=30_000)
    for name in COMPONENTS:
        life = TRUE_LIVES[name]
        exact = life.scale_value * (-np.log(0.9)) ** (1 / life.shape)
        assert found[name].b10 == pytest.approx(exact, rel=0.03)
        mean = life.scale_value * gamma(1 + 1 / life.shape)
        assert found[name].mean == pytest.approx(mean, rel=0.01)


def test_every_world_says_what_it_breaks() -> None:
    assert len({one.name for one in WORLDS}) == 8
    for one in WORLDS:
        assert set(one.breaks) <= set(ASSUMPTIONS)
        assert one.meets_assumptions == (not one.breaks)
