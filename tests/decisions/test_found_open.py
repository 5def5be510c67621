"""What was found at the open job, discounting, and more neighbours than bundles can be priced."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.break_even import DEGRADED_LEAVE, DEGRADED_PAYS
from wornby.decisions.bundle_search import choices_of
from wornby.decisions.costs import AccessGroup, PartCosts
from wornby.decisions.exact_programme import exact_beside_simulation, extrapolated_programme
from wornby.decisions.later_policy import only_the_failed, past_a_threshold
from wornby.decisions.open_job import Neighbour, OpenJob, bundles
from wornby.decisions.openings import horizon_costs
from wornby.decisions.paths import as_found, sampled_paths
from wornby.decisions.shared_wear import SharedPlaces
from wornby.decisions.vehicle_parts import SOUND, VehiclePart
from wornby.decisions.while_open import WhileOpenAdvice, renew_while_open

ENGINE_OUT = AccessGroup("engine lowered", access_hours=9.0, follow_on_cost_net=60.0)
NEVER = WeibullDraws(np.array([3.0]), np.array([1e4]), "years")


def life(shape: float, scale: float) -> WeibullDraws:
    return WeibullDraws(np.array([shape]), np.array([scale]), "years")


def part(name: str, age: float = 8.0, **facts: Any) -> Neighbour:
    costs = PartCosts(
        name,
        own_hours=facts.pop("hours", 0.5),
        part_price_net=facts.pop("price", 60.0),
        failure_consequence_net=facts.pop("consequence", 80.0),
        safety=facts.pop("safety", False),
    )
    curve = facts.pop("curve", life(3.0, 14.0))
    return Neighbour(costs, age, curve, facts.pop("renewed", curve), **facts)


def job(*parts: Neighbour, **facts: Any) -> OpenJob:
    told: dict[str, Any] = {"failed": None, "degraded": frozenset(), "horizon_years": 3.0, **facts}
    return OpenJob(ENGINE_OUT, parts, labour_price_per_hour=70.0, **told)


def advice(question: OpenJob, *, n_paths: int = 4000, **more: Any) -> WhileOpenAdvice:
    return renew_while_open(question, n_paths=n_paths, rng=np.random.default_rng(5), **more)


def chance_left(answer: WhileOpenAdvice) -> float:
    """The chance that the access is opened again when nothing is renewed."""
    rows = answer.table.to_dicts()
    return float(
        next(r for r in rows if r["renew_now"] == "nothing more")["further_opening_chance"]
    )


def test_a_degraded_part_lives_on_for_its_delay_whatever_its_age() -> None:
    # by hand: an exponential delay ends within the horizon with the chance 1 - exp(-h / delay)
    for age in (0.5, 8.0, 20.0):
        reservoir = part("reservoir", age, delay_years=np.array([0.7]), renewed=NEVER)
        found = advice(job(reservoir, degraded=frozenset({"reservoir"})), n_paths=20_000)
        assert chance_left(found) == pytest.approx(1 - math.exp(-3.0 / 0.7), abs=0.01)
        assert found.break_even_ages["reason"].to_list() == [DEGRADED_PAYS]
        assert "lives on from here for as long as a defect shows" in found.notes[0]


def test_a_degraded_reservoir_is_renewed_young_and_a_sound_one_is_left() -> None:
    # common practice, no source: a reservoir cracks and discolours before it leaks, so a degraded
    # finding leads the failure by months and is acted on
    young = part("reservoir", 3.0, delay_years=np.array([0.5]), detection=0.9)
    left = advice(job(young))
    acted = advice(job(young, degraded=frozenset({"reservoir"})))
    assert (left.best, acted.best) == ((), ("reservoir",))


def test_a_right_level_does_not_rule_out_a_leak() -> None:
    # common practice, no source: the level says little, a look at the open part says much
    worn = part("reservoir", 13.0, delay_years=np.array([0.8]), renewed=NEVER)
    chances = [
        chance_left(advice(job(replace(worn, detection=seen), sound=frozenset({"reservoir"})),
                           n_paths=20_000))
        for seen in (0.0, 0.1, 0.95)
    ]  # fmt: skip
    assert chances[1] > 0.95 * chances[0]
    assert chances[2] < 0.9 * chances[0]


def test_a_sound_part_has_the_chance_that_the_vehicle_sheet_tells() -> None:
    n = 20_000
    seen = part("reservoir", 13.0, delay_years=np.array([0.8]), detection=0.9, renewed=NEVER)
    told = VehiclePart(
        seen.costs, ENGINE_OUT, np.full(n, 13.0),
        WeibullDraws(np.full(n, 3.0), np.full(n, 14.0), "years"), NEVER, SOUND, np.full(n, 0.8),
        detection=0.9,
    )  # fmt: skip
    open_job = advice(job(seen, sound=frozenset({"reservoir"})), n_paths=n)
    assert chance_left(open_job) == pytest.approx(told.chance_within(3.0).mean(), abs=0.015)


def test_a_renewed_part_owes_nothing_to_what_a_look_found_of_the_old() -> None:
    question = job(
        part("hose", 13.0, delay_years=np.array([0.8]), detection=0.9),
        sound=frozenset({"hose"}),
        horizon_years=8.0,
    )
    drawn = sampled_paths(question, n_paths=20_000, rng=np.random.default_rng(1))
    found = as_found(drawn, question, np.random.default_rng(2))
    costs = [
        horizon_costs(
            question, paths, only_the_failed(question), bundles=np.ones((1, 1), dtype=np.bool_),
            ages=question.ages[None, :],
        )[0].mean()
        for paths in (drawn, found)
    ]  # fmt: skip
    assert costs[0] == pytest.approx(costs[1], rel=1e-12)


@pytest.mark.parametrize("rate", [0.0, 0.05, 0.3])
def test_exponential_parts_cost_their_rate_discounted(rate: float) -> None:
    # by hand: bills come at a constant rate, each counting for (1 + rate)^-t
    lamp = part("lamp", curve=life(1.0, 4.0))
    question = job(lamp, horizon_years=6.0, discount_rate_per_year=rate)
    cost, _ = horizon_costs(
        question,
        sampled_paths(question, n_paths=40_000, rng=np.random.default_rng(3)),
        only_the_failed(question),
        bundles=np.zeros((1, 1), dtype=np.bool_),
        ages=question.ages[None, :],
    )
    force = math.log1p(rate)
    years = 6.0 if rate == 0 else -math.expm1(-force * 6.0) / force
    expected = question.failure_costs[0] / 4.0 * years
    assert abs(cost.mean() - expected) < 3.5 * cost.std() / math.sqrt(cost.size)


@pytest.mark.parametrize("seed", range(4))
def test_the_programme_and_the_simulation_discount_alike(seed: int) -> None:
    rng = np.random.default_rng(seed)
    question = job(
        *(
            part(f"part {i}", float(rng.uniform(2, 12)),
                 curve=life(float(rng.uniform(1, 4)), float(rng.uniform(4, 12))))
            for i in range(2)
        ),
        horizon_years=6.0,
        discount_rate_per_year=0.15,
    )  # fmt: skip
    table = exact_beside_simulation(question, n_paths=8000, rng=rng)
    off = (table["simulated_failed_only_net"] - table["exact_failed_only_net"]).abs()
    assert (off < 3.5 * table["standard_error_net"] + 1e-9).all()
    assert (table["exact_best_net"] <= table["exact_failed_only_net"] + 1e-6).all()
    undiscounted = replace(question, discount_rate_per_year=0.0)
    now = extrapolated_programme(question, steps=20, later="renew what is best")
    dearer = extrapolated_programme(undiscounted, steps=20, later="renew what is best")
    assert (now <= dearer).all()


def crowd(k: int, seed: int) -> OpenJob:
    rng = np.random.default_rng(seed)
    parts = [
        part(
            f"part {i}",
            float(rng.uniform(1, 14)),
            hours=float(rng.uniform(0.2, 3)),
            price=float(rng.uniform(10, 300)),
            curve=life(float(rng.uniform(1, 5)), float(rng.uniform(6, 30))),
            safety=bool(rng.random() < 0.3),
        )
        for i in range(k)
    ]
    found = frozenset(p.component for p in parts if rng.random() < 0.2)
    return job(*parts, failed="part 0", degraded=found)


@pytest.mark.parametrize("seed", range(6))
def test_the_search_among_bundles_finds_what_pricing_all_of_them_does(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    question = crowd(6, seed)
    of_all = advice(question, n_paths=2000)
    monkeypatch.setattr("wornby.decisions.bundle_search.MOST_IN_BUNDLES", 2)
    searched = advice(question, n_paths=2000)
    assert searched.table.height < of_all.table.height
    assert searched.expected_cost_net <= 1.002 * of_all.expected_cost_net


def test_twelve_neighbours_are_weighed_and_thirteen_refused() -> None:
    answer = advice(crowd(12, 3), n_paths=500)
    must = {n.component for n in answer.job.neighbours if n.costs.safety} & answer.job.degraded
    assert must - {"part 0"} <= set(answer.best)
    assert answer.break_even_ages.height == 11
    assert answer.expected_cost_net <= min(answer.leave_all_cost_net, answer.renew_all_cost_net)
    with pytest.raises(ValueError, match="13 components, wanted at most 12 behind one access"):
        advice(crowd(13, 3), n_paths=500)


def test_all_bundles_of_six_are_priced() -> None:
    question = crowd(6, 1)
    paths = sampled_paths(question, n_paths=100, rng=np.random.default_rng(1))
    rules = (only_the_failed(question), past_a_threshold(question))
    assert np.array_equal(choices_of(question, paths, rules), bundles(question))


def test_the_best_bundle_stands_beside_the_plain_rules() -> None:
    answer = advice(job(part("seal", 12.0), part("mount", 12.0), part("bush", 2.0), failed="seal"))
    rules = {row["rule"]: row for row in answer.against.to_dicts()}
    assert list(rules) == [
        "the best bundle", "leave all now", "renew all now", "only what fails, now and later"
    ]  # fmt: skip
    assert rules["the best bundle"]["saved_net"] == 0
    for name, cost in (
        ("leave all now", answer.leave_all_cost_net),
        ("renew all now", answer.renew_all_cost_net),
    ):
        row = rules[name]
        assert row["expected_cost_net"] == pytest.approx(cost)
        assert row["saved_net"] == pytest.approx(cost - answer.expected_cost_net)
        assert row["saved_lower_net"] <= row["saved_upper_net"]
        assert 0 <= row["cheaper_chance"] <= 1


MONEY = st.fixed_dictionaries(
    {"price": st.floats(0, 1e5), "consequence": st.floats(0, 1e5), "hours": st.floats(0, 100)}
)


LIVES = st.fixed_dictionaries(
    {"age": st.floats(0, 30), "scale": st.floats(1, 40), "horizon": st.floats(1, 10)}
)


@settings(max_examples=20)
@given(money=MONEY, lives=LIVES, delay=st.none() | st.floats(0.05, 20), alike=st.floats(0, 5))
def test_an_open_job_never_leaves_a_degraded_safety_part_whatever_the_money(
    money: dict[str, float], lives: dict[str, float], delay: float | None, alike: float
) -> None:
    age, curve, horizon = lives["age"], life(3.0, lives["scale"]), lives["horizon"]
    pipes = [
        part(
            f"brake pipe, {side}",
            age,
            curve=curve,
            safety=True,
            delay_years=None if delay is None else np.array([delay]),
            **money,
        )
        for side in ("left", "right")
    ]
    question = job(
        part("bush", 4.0), *pipes, degraded=frozenset({"brake pipe, left"}), horizon_years=horizon
    )
    shared = SharedPlaces(("brake pipe, left", "brake pipe, right"), np.array([alike]))
    answer = advice(question, n_paths=100, shared=[shared])
    assert "brake pipe, left" in answer.best
    assert any("renewed whatever it costs" in note for note in answer.notes)


def test_a_degraded_part_that_is_dear_and_harms_nobody_may_be_left() -> None:
    radio = part("fan resistor", 5.0, price=9000.0, delay_years=np.array([30.0]))
    answer = advice(job(radio, degraded=frozenset({"fan resistor"}), horizon_years=0.5))
    assert answer.best == ()
    assert answer.break_even_ages["reason"].to_list() == [DEGRADED_LEAVE]


def test_what_cannot_be_is_named() -> None:
    with pytest.raises(ValueError, match="hose named sound and failed or degraded, wanted one"):
        job(part("hose"), degraded=frozenset({"hose"}), sound=frozenset({"hose"}))
    with pytest.raises(ValueError, match=r"discount_rate_per_year is -0.1, wanted a finite rate"):
        job(part("hose"), discount_rate_per_year=-0.1)
    with pytest.raises(ValueError, match=r"hose: detection is 1.5, wanted 0 to 1"):
        part("hose", detection=1.5)
    with pytest.raises(ValueError, match="5 places, wanted at most 4 for the exact programme"):
        exact_beside_simulation(crowd(5, 1), n_paths=100, rng=np.random.default_rng(1))
