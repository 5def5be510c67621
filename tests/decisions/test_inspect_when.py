import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import ArrayLike, NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.inspect_when import (
    NO_INTERVAL_PAYS,
    ExponentialDelay,
    FixedDelay,
    InspectionCosts,
    catch_share,
    inspection_cost_rate,
    inspection_interval,
    longest_interval,
    methods_table,
)
from wornby.decisions.long_run import mean_service

COSTS = InspectionCosts(
    inspection_net=30.0, failure_net=600.0, caught_net=150.0, out_of_use_years=0.0
)


class Exponential:
    def survival(self, age: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(np.exp(-np.asarray(age, dtype=np.float64) / 1.5))


def test_a_simulation_of_defects_and_looks_agrees() -> None:
    rng = np.random.default_rng(5)
    delay = 1.5 * rng.weibull(2.0, size=100_000)
    first = rng.uniform(0, 0.8, size=delay.size)
    looks_missed = rng.geometric(0.6, size=delay.size) - 1
    caught = (first + 0.8 * looks_missed < delay).mean()
    known = WeibullDraws(np.array([2.0]), np.array([1.5]), "years")
    table = methods_table(known, {"on the ramp": 0.6}, [0.8])
    assert table["catch_share"][0] == pytest.approx(caught, abs=3 * 0.5 / math.sqrt(delay.size))


def test_any_curve_may_be_the_delay() -> None:
    by_curve = catch_share(mean_service(Exponential()), interval_years=1.0, detection=0.7)
    by_formula = catch_share(ExponentialDelay(1.5), interval_years=1.0, detection=0.7)
    assert by_curve == pytest.approx(by_formula, rel=1e-9)


@given(
    interval=st.floats(0.05, 10),
    detection=st.floats(0.05, 1),
    longer=st.floats(1.01, 3),
    delay=st.floats(0.1, 10),
)
def test_looking_more_often_or_better_catches_more(
    interval: float, detection: float, longer: float, delay: float
) -> None:
    share = catch_share(FixedDelay(delay), interval_years=interval, detection=detection)
    seldom = catch_share(FixedDelay(delay), interval_years=interval * longer, detection=detection)
    worse = catch_share(FixedDelay(delay), interval_years=interval, detection=detection / longer)
    assert -1e-12 <= seldom <= share + 1e-12
    assert worse <= share + 1e-12
    assert share <= 1 + 1e-12


def test_the_longest_interval_catches_just_the_wanted_share() -> None:
    delay = ExponentialDelay(2.0)
    interval = longest_interval(delay, share=0.8, detection=0.9)
    caught = catch_share(delay, interval_years=interval, detection=0.9)
    assert caught == pytest.approx(0.8, rel=1e-9)


def test_the_advised_interval_is_the_cheapest_of_a_fine_grid() -> None:
    advice = inspection_interval(
        ExponentialDelay(1.0), detection=0.8, defects_per_year=0.1, costs=COSTS
    )
    brute = [
        inspection_cost_rate(
            ExponentialDelay(1.0),
            interval_years=float(t),
            detection=0.8,
            defects_per_year=0.1,
            costs=COSTS,
        )
        for t in np.linspace(0.2, 8, 2000)
    ]
    assert advice.cost_rate <= min(brute) < advice.never_rate == pytest.approx(60.0)
    assert 0 < advice.catch_share < 1
    assert advice.saving == pytest.approx(1 - advice.cost_rate / 60.0)


def test_dear_looks_for_rare_defects_are_not_worth_it() -> None:
    dear = InspectionCosts(
        inspection_net=400.0, failure_net=600.0, caught_net=500.0, out_of_use_years=0.0
    )
    advice = inspection_interval(
        ExponentialDelay(0.5), detection=0.8, defects_per_year=0.05, costs=dear
    )
    assert (advice.interval_years, advice.reason) == (math.inf, NO_INTERVAL_PAYS)
    assert advice.saving == 0


def test_a_hidden_end_is_seen_on_the_ramp_and_hardly_from_above() -> None:
    # common practice, no source: ends exposed to road dirt corrode first, and a look from above
    # says little about them
    rng = np.random.default_rng(3)
    delay = WeibullDraws(
        2.0 * np.exp(0.2 * rng.standard_normal(500)),
        1.5 * np.exp(0.2 * rng.standard_normal(500)),
        "years",
    )
    table = methods_table(delay, {"from above": 0.1, "undertray off": 0.95}, [1.0, 2.0])
    above, below = table["catch_share"][0], table["catch_share"][2]
    assert table.height == 4
    assert above < 0.3
    assert below > 0.7
    assert (table["catch_share_lower"] < table["catch_share"]).all()
    assert (table["catch_share"] < table["catch_share_upper"]).all()


def test_what_cannot_be_is_named() -> None:
    with pytest.raises(ValueError, match="interval_years is 0, wanted above 0"):
        catch_share(FixedDelay(1.0), interval_years=0, detection=1)
    with pytest.raises(ValueError, match="detection is 0, wanted above 0"):
        catch_share(FixedDelay(1.0), interval_years=1, detection=0)
    with pytest.raises(ValueError, match="share is 1, wanted between 0 and 1"):
        longest_interval(FixedDelay(1.0), share=1, detection=0.5)
    with pytest.raises(ValueError, match="inspection: failure_net is -1"):
        InspectionCosts(1.0, -1.0, 1.0, 0.0)
