"""A short run of the study of clubs: one club where answering is fair, two where trouble answers.

In the whole study (survey.csv) 90 % intervals should hold the truth in 87 to 93 % of the fair
clubs. Weibull's do. Turnbull's fall short for the water pump: 85.0 % (standard error 2.1) in clubs
that had no part in choosing its steps. Where owners with trouble answer three times as readily the
sensitivity band should hold it and the percentage that clubs print should not.
"""

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from .clubs import ANSWERING, BOUGHT_NEW, BY, MEMBERS, SHAPE, club, true_share
from .survey import METHODS, WORLDS, clubs, summary

FAIR, TROUBLED = WORLDS
TABLE = Path(__file__).parent / "survey.csv"


@pytest.fixture(scope="module")
def found() -> pl.DataFrame:
    """Every method's answer for the three clubs."""
    streams = np.random.SeedSequence(3).spawn(3)
    return pl.concat(
        [clubs(FAIR, streams[:1], processes=1), clubs(TROUBLED, streams[1:], processes=1)]
    )


def test_a_quarter_of_the_members_answers(found: pl.DataFrame) -> None:
    for answers in found["answers"].unique():
        assert answers == pytest.approx(ANSWERING * MEMBERS, abs=5 * np.sqrt(MEMBERS * 3 / 16))


def test_every_method_tells_of_both_components(found: pl.DataFrame) -> None:
    table = summary(found)
    fair = table.filter(world=FAIR).select("component", "method").rows()
    assert set(fair) == {(component, method) for component in BY for method in METHODS}
    assert set(table.filter(world=TROUBLED)["method"]) == set(METHODS) - {"Turnbull"}


def test_estimates_are_near_the_truth_and_the_plain_percentage_is_not(found: pl.DataFrame) -> None:
    fair = found.filter(world=FAIR)
    for row in fair.filter(pl.col("method").is_in(["Weibull", "Turnbull"])).to_dicts():
        assert row["value"] == pytest.approx(row["truth"], abs=0.15)
    plain = fair.filter(method="plain percentage")
    assert (plain["lower"] > plain["truth"]).all()


def test_the_true_share_is_that_of_the_lives_drawn() -> None:
    """Three clubs of 2,000: a standard error of 0.6 %."""
    rng = np.random.default_rng(4)
    drawn = [club(rng) for _ in range(3)]
    for component in SHAPE:
        failed = np.mean([(m.lives[component][:, 0] <= BY[component]).mean() for m in drawn])
        assert failed == pytest.approx(true_share(component), abs=0.025)


def test_some_fifteen_in_a_hundred_renewals_came_before_the_van_was_bought() -> None:
    rng = np.random.default_rng(5)
    members = club(rng)
    assert BOUGHT_NEW > 0
    before = members.lives["water pump"][:, 0] < members.bought_age
    assert before[members.renewed("water pump")].mean() == pytest.approx(0.17, abs=0.05)


def test_the_table_of_the_whole_study_says_what_is_claimed() -> None:
    table = pl.read_csv(TABLE)
    assert table["clubs"].min() == 300
    fair = table.filter(world=FAIR)
    assert fair.filter(method="Weibull")["held"].is_between(0.87, 0.93).all()
    assert fair.filter(method="Turnbull")["held"].is_between(0.84, 0.93).all()
    troubled = table.filter(world=TROUBLED)
    assert (troubled.filter(method="sensitivity band")["held"] >= 0.9).all()
    assert (troubled.filter(method="plain percentage")["held"] == 0).all()
