from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.costs import AccessGroup, PartCosts
from wornby.decisions.vehicle_parts import DEGRADED, RUNNING, VehiclePart
from wornby.decisions.vehicle_plans import VehicleSheet, vehicle_sheet

N = 1000
RATE = 70.0
ENGINE_OUT = AccessGroup("engine lowered", access_hours=10.0, follow_on_cost_net=60.0)
OPEN = AccessGroup("lies open", access_hours=0.0, follow_on_cost_net=0.0)


def part(
    name: str,
    *,
    group: AccessGroup = ENGINE_OUT,
    age: float = 10.0,
    shape: float = 3.0,
    scale: float = 15.0,
    condition: str = RUNNING,
    price: float = 80.0,
    consequence: float = 100.0,
    safety: bool = False,
    delay: float | None = None,
    n: int = N,
) -> VehiclePart:
    life = WeibullDraws(np.full(n, shape), np.full(n, scale), "years")
    return VehiclePart(
        costs=PartCosts(name, 1.0, price, consequence, safety),
        group=group,
        age_years=np.full(n, age),
        life=life,
        renewed_life=life,
        condition=condition,
        delay_years=None if delay is None else np.full(n, delay),
        detection=0.5,
    )


def sheet(
    *parts: VehiclePart, horizon: float = 3.0, rate: float = RATE, seed: int = 1
) -> VehicleSheet:
    rng = np.random.default_rng(seed)
    return vehicle_sheet(parts, horizon_years=horizon, labour_price_per_hour=rate, rng=rng)


MONEY = st.fixed_dictionaries(
    {"price": st.floats(0, 1e5), "consequence": st.floats(0, 1e5), "delay": st.floats(0.01, 20)}
)
LIFE = st.fixed_dictionaries(
    {"age": st.floats(0, 40), "shape": st.floats(0.5, 6), "scale": st.floats(0.5, 200)}
)


@given(money=MONEY, life=LIFE, hours=st.floats(0, 100), horizon=st.floats(0.05, 20))
def test_a_degraded_safety_part_is_never_left_whatever_the_money(
    money: dict[str, Any], life: dict[str, Any], hours: float, horizon: float
) -> None:
    group = AccessGroup("subframe down", access_hours=hours, follow_on_cost_net=0.0)
    brake = part(
        "brake pipe",
        group=group,
        condition=DEGRADED,
        safety=True,
        n=100,
        **money,
        **life,
    )
    bush = part("bush", group=group, n=100)
    told = sheet(bush, brake, part("seal", n=100), horizon=horizon)
    assert told.plans[0].must == ("brake pipe",)
    assert "brake pipe" in told.plans[0].renew_now


def test_a_part_of_no_consequence_is_not_renewed_when_dear_unless_safety_asks() -> None:
    dear: dict[str, Any] = {"price": 5000.0, "consequence": 0.0, "age": 1.0, "condition": DEGRADED}
    left = sheet(part("heater valve", **dear))
    kept = sheet(part("brake pipe", safety=True, **dear))
    assert left.plans[0].renew_now == ()
    assert kept.plans[0].renew_now == ("brake pipe",)
    assert kept.plans[0].saving < 0


def test_left_alone_exponential_parts_cost_their_failures() -> None:
    # renewed at each failure, an exponential life fails at its rate: horizon / scale, by hand
    one = part("lamp", group=OPEN, shape=1.0, scale=5.0, n=20_000)
    cost = sheet(one).leave_cost
    expected = 3.0 / 5.0 * (RATE + 80.0 + 100.0)
    assert cost.mean() == pytest.approx(expected, abs=4 * cost.std() / np.sqrt(cost.size))


def test_neighbours_behind_one_access_cost_less_than_apart() -> None:
    apart = AccessGroup("gearbox out", access_hours=10.0, follow_on_cost_net=60.0)
    old: dict[str, Any] = {"age": 13.0, "n": 4000}
    seal = part("seal", **old)
    here, there = (part("cylinder", group=g, **old) for g in (ENGINE_OUT, apart))
    together, each = (sheet(seal, other, horizon=6.0).leave_cost.mean() for other in (here, there))
    assert together < 0.9 * each


def test_nobody_lowers_the_engine_for_a_sound_reservoir_but_it_is_renewed_when_it_is_out() -> None:
    # common practice, no source: a coolant reservoir behind the engine
    told = sheet(part("reservoir", age=9.0), part("mount", age=9.0, price=40.0, consequence=20.0))
    (plan,) = told.plans
    assert plan.renew_now == ()
    assert "reservoir" in plan.while_open
    assert np.array_equal(plan.leave_cost, plan.advised_cost)


def test_work_is_advised_only_where_it_saves() -> None:
    belt = part("timing belt", age=14.0, shape=4.5, scale=16.0, consequence=2600.0)
    told = sheet(belt, part("lamp", group=OPEN, shape=1.0))
    first, last = told.plans
    assert (first.renew_now, last.renew_now) == (("timing belt",), ())
    assert first.saving > 0
    assert told.advised_cost.mean() < told.leave_cost.mean()
    assert first.probability_right > 0.9


def test_todays_bill_is_access_follow_on_hours_and_part_of_what_is_advised() -> None:
    belt = part("timing belt", age=14.0, shape=4.5, scale=16.0, consequence=2600.0)
    first, last = sheet(belt, part("lamp", group=OPEN, shape=1.0)).plans
    # by hand: 10 hours at 70 and 60 of follow-on work; 1 hour and 80 for the belt
    assert first.paid_now == 10 * 70 + 60 + 70 + 80
    assert last.paid_now == 0
    assert first.paid_now < first.advised_cost.mean()


def test_doubling_every_cost_changes_nothing_but_the_cost() -> None:
    def told(times: float) -> VehicleSheet:
        group = AccessGroup("engine lowered", 10.0, 60.0 * times)
        parts = [
            part(n, group=group, age=a, price=80 * times, consequence=300 * times)
            for n, a in (("seal", 12.0), ("cylinder", 9.0))
        ]
        return sheet(*parts, rate=RATE * times)

    once, twice = told(1.0), told(2.0)
    assert once.plans[0].while_open == twice.plans[0].while_open
    assert twice.leave_cost == pytest.approx(2 * once.leave_cost)


def test_a_longer_horizon_never_costs_less() -> None:
    costs = [sheet(part("seal"), part("pump"), horizon=h).leave_cost.mean() for h in (1, 3, 6)]
    assert costs == sorted(costs)


def test_a_group_may_hold_more_than_bundles_could_be_priced_for() -> None:
    told = sheet(*(part(f"hose {n}", age=5.0 + n) for n in range(12)))
    assert len(told.plans[0].components) == 12


def test_what_cannot_be_is_named() -> None:
    with pytest.raises(ValueError, match="horizon_years is 0, wanted above 0"):
        sheet(part("seal"), horizon=0)
    with pytest.raises(ValueError, match="wanted one part or more"):
        sheet()
    with pytest.raises(ValueError, match="5 paths, wanted 100 or more"):
        sheet(part("seal", n=5))
    with pytest.raises(ValueError, match="each once"):
        sheet(part("seal"), part("seal"))
