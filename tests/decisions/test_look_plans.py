import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.inspect_when import (
    NO_INTERVAL_PAYS,
    ExponentialDelay,
    InspectionCosts,
    catch_share,
)
from wornby.decisions.look_plans import DrawnDelay, LookPlan, caught_each, look_plan

COSTS = InspectionCosts(
    inspection_net=7.0, failure_net=900.0, caught_net=400.0, out_of_use_years=0.0
)
DRAWN = 0.5 * np.exp(0.3 * np.random.default_rng(1).standard_normal(400))


def plan(
    detection: float, *, means: np.ndarray = DRAWN, rate: float = 0.15, share: float = 0.5
) -> LookPlan:
    return look_plan(
        WeibullDraws(np.ones_like(means), means, "years"),
        component="coolant transfer pipe",
        way="on the ramp",
        detection=detection,
        share=share,
        defects_per_year=rate,
        costs=COSTS,
        confidence=0.9,
    )


@given(interval=st.floats(0.02, 8), detection=st.floats(0.05, 1), mean=st.floats(0.05, 5))
def test_the_closed_form_is_the_series_over_looks(
    interval: float, detection: float, mean: float
) -> None:
    one = WeibullDraws(np.ones(1), np.array([mean]), "years")
    closed = caught_each(one, interval_years=interval, detection=detection)[0]
    series = catch_share(ExponentialDelay(mean), interval_years=interval, detection=detection)
    assert closed == pytest.approx(series, rel=1e-8, abs=1e-12)


def test_the_interval_for_a_share_catches_it_under_the_middling_delay() -> None:
    advice = plan(0.5).for_share
    assert advice.value is not None
    delay = ExponentialDelay(float(np.median(DRAWN)))
    caught = catch_share(delay, interval_years=advice.value, detection=0.5)
    assert caught == pytest.approx(0.5, abs=1e-6)


def test_a_drawn_delay_is_the_mean_over_its_draws() -> None:
    lengths = [float(ExponentialDelay(float(m)).length(0.7)) for m in DRAWN]
    assert DrawnDelay(DRAWN).length(0.7)[0] == pytest.approx(np.mean(lengths))


def test_inspection_pays_where_a_degraded_finding_leads_the_failure_by_months() -> None:
    # common practice, no source: a reservoir cracks and discolours before it leaks
    months = plan(0.5)
    assert math.isfinite(months.cheapest.interval_years)
    assert months.cheapest.saving > 0
    assert months.pays_probability > 0.9
    days = plan(0.5, means=np.full(400, 3 / 365))
    assert days.cheapest.reason == NO_INTERVAL_PAYS
    assert days.pays_probability == 0


def test_a_look_from_above_says_little_of_the_hidden_end() -> None:
    # common practice, no source: ends in road dirt corrode first and cannot be seen from above
    delay = WeibullDraws(np.ones_like(DRAWN), DRAWN, "years")
    above, below = (caught_each(delay, interval_years=0.5, detection=r).mean() for r in (0.1, 0.8))
    assert above < 0.2
    assert below > 0.5
    assert (plan(0.1).for_share.value or 0) < 0.25 * (plan(0.8).for_share.value or 0)


def test_a_delay_that_ages_is_no_plan_of_this_kind() -> None:
    ageing = WeibullDraws(np.full(5, 2.0), np.ones(5), "years")
    with pytest.raises(ValueError, match="a delay of shape 2, wanted 1"):
        look_plan(ageing, component="pipe", way="ramp", detection=0.5, share=0.5,
                  defects_per_year=0.1, costs=COSTS, confidence=0.9)  # fmt: skip
    with pytest.raises(ValueError, match="share is 1, wanted between 0 and 1"):
        plan(0.5, share=1)
