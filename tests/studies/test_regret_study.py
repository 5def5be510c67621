"""A short run of the study of decisions, and what it is made of."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from studies.failures_to_come import judged
from studies.lived_on import CLOSE, lived_on
from studies.open_jobs import Situation, hazard_spent, situations, tied_luck, true_job, true_prices
from studies.regret import (
    AS_ADVISED,
    EVERYWHERE,
    FIXED_PRICE,
    RENEWAL_AGE,
    TO_COME,
    WHILE_OPEN,
    Size,
    ratios,
    study,
    trial,
)

from wornby.decisions.expected import counted
from wornby.reports.ramp import Ramp
from wornby.reports.yearly_pace import Pace

TWINS = Situation(
    "front subframe down", "coolant transfer pipe, left", Ramp(9.0, Pace(8_000.0, "miles"), 4.0, {})
)


@pytest.fixture(scope="module")
def table() -> pl.DataFrame:
    """The study's own table, in one process."""
    return study(Size({100: 1}, 4, 400, 2, 1, 1), seed=5, run=map)


def test_every_question_has_its_rows_and_its_bar(table: pl.DataFrame) -> None:
    assert set(table["question"]) >= {WHILE_OPEN, RENEWAL_AGE, FIXED_PRICE, TO_COME}
    assert table.filter(pl.col("value").is_null()).is_empty()
    bars = table.filter(pl.col("most").is_not_null())
    assert set(bars["question"]) == {FIXED_PRICE, TO_COME}
    assert (bars["least"].fill_null(0.0) < bars["most"]).all()
    assert trial(table).height < table.height / 2


def test_no_decision_is_cheaper_than_the_best_and_advice_beats_leaving_all(
    table: pl.DataFrame,
) -> None:
    excess = table.filter(pl.col("question").is_in([WHILE_OPEN, RENEWAL_AGE]))
    assert excess["value"].min() >= 0.0  # type: ignore[operator]  # not empty
    of = {
        row["what"]: row["value"]
        for row in excess.filter(question=WHILE_OPEN, where=EVERYWHERE).to_dicts()
    }
    assert of[AS_ADVISED] < min(of["leave all"], of["renew all"])


def test_a_ratio_has_the_error_of_its_units() -> None:
    """By hand: 3 of 10 and 5 of 10 make 0.4; left over are -1 and 1, of mean 10."""
    sums = pl.DataFrame({"unit": [0, 1], "top": [3.0, 5.0], "bottom": [10.0, 10.0]})
    named = {"question": "q", "records": "r", "where": "w", "what": "x"}
    told = ratios(sums.with_columns(**{name: pl.lit(text) for name, text in named.items()}))
    value, error, n = told.select("value", "std_err", "n").row(0)
    assert (value, n) == (pytest.approx(0.4), 2)
    assert error == pytest.approx(np.sqrt(2) / 10 / np.sqrt(2))


def test_a_twin_of_what_just_failed_young_has_less_left_than_one_of_what_has_lasted() -> None:
    rng = np.random.default_rng(1)
    left, right = (
        tied_luck(true_job(s), s, rng, 4_000)[:, 1]
        for s in (TWINS, replace(TWINS, failed="brake pipe above the axle"))
    )
    assert np.mean(left) < 0.7
    assert np.mean(right) > 1.0
    assert min(left.min(), right.min()) >= 0.0


def test_left_and_right_are_tied_as_in_the_world() -> None:
    """The right one's chance to fail next, its twin just failed, from many pairs of lives."""
    rng, n = np.random.default_rng(2), 150_000
    from wornby.demo.fleet import original_lives
    from wornby.demo.parameters import WorldParameters
    from wornby.demo.places import merrow_world

    places = merrow_world(WorldParameters()).places
    first = places.of("coolant transfer pipe")
    lives = original_lives(n, places, rng=rng)[:, [first, first + 1]]
    alike = lives[(abs(lives[:, 0] - 9.0) < 0.25) & (lives[:, 1] > 9.0)][:, 1]
    job = true_job(TWINS)
    luck = tied_luck(job, TWINS, rng, 20_000)[:, 1]
    pipe = job.neighbours[1]
    drawn = pipe.life.scale[0] * (hazard_spent(pipe) + luck) ** (1 / pipe.life.shape[0])
    share = float(np.mean(alike < 11.0))
    error = np.sqrt(share * (1 - share) * (1 / alike.size + 1 / 20_000))
    assert np.mean(drawn < 11.0) == pytest.approx(share, abs=4 * error)


def test_the_oracle_is_the_least_of_all_bundles_and_rules() -> None:
    for situation in situations(2, np.random.default_rng(3)):
        prices = true_prices(situation, n_paths=300, rng=np.random.default_rng(4))
        assert prices.oracle == prices.costs.min() <= min(prices.rules.values())
        every = tuple(str(n) for n in prices.components if n != situation.failed)
        assert prices.cost_of(every) == prices.rules["renew all"]


def test_a_right_forecast_holds_nine_tenths_of_the_randomised_interval_whatever_the_counts() -> (
    None
):
    """Weighed by its own chances, so without any chance left in the test."""
    chances = np.array([0.4, 0.3, 0.2, 0.07, 0.03])
    told = counted(chances, n_parts=9, confidence=0.9)
    each = [judged(told, n) for n in range(5)]
    assert chances @ [one.randomised for one in each] == pytest.approx(0.9)
    assert chances @ [one.above for one in each] == pytest.approx(0.05)
    assert chances @ [one.plain for one in each] == pytest.approx(each[0].stated)
    assert judged(told, 40).randomised == 0.0


def test_the_year_after_the_close_is_not_in_the_records() -> None:
    lived = lived_on(40, np.random.default_rng(6))
    records = lived.workshop.records
    assert records.vehicles.height == 40
    assert records.visits["date"].max() <= CLOSE  # type: ignore[operator]  # not empty
    assert sum(lived.came.values()) > 0
