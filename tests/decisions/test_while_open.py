"""Renew while open, against closed forms, laws and a nested simulation."""

import math
from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from numpy.typing import ArrayLike, NDArray

from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.block import renewal_function
from wornby.decisions.break_even import DEGRADED_SAFETY, PAYS_ABOVE
from wornby.decisions.bundle_search import NOTHING_MORE
from wornby.decisions.costs import AccessGroup, PartCosts
from wornby.decisions.later_policy import only_the_failed, past_a_threshold
from wornby.decisions.open_job import Neighbour, OpenJob, bundles
from wornby.decisions.openings import horizon_costs
from wornby.decisions.paths import sampled_paths
from wornby.decisions.while_open import WhileOpenAdvice, renew_while_open

GEARBOX_OUT = AccessGroup("gearbox out", access_hours=6.0, follow_on_cost_net=40.0)


class Weibull:
    def __init__(self, shape: float, scale: float) -> None:
        self.shape, self.scale = shape, scale

    def survival(self, age: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(np.exp(-((np.asarray(age) / self.scale) ** self.shape)))


def life(shape: float, scale: float, *, spread: float = 0.0, seed: int = 1) -> WeibullDraws:
    rng = np.random.default_rng(seed)
    n = 2000 if spread else 1
    return WeibullDraws(
        shape=shape * np.exp(spread * rng.standard_normal(n)),
        scale=scale * np.exp(spread / 2 * rng.standard_normal(n)),
        unit="years",
    )


def neighbour(
    name: str, age: float, curve: WeibullDraws, *, hours: float = 0.5, safety: bool = False
) -> Neighbour:
    costs = PartCosts(
        name,
        own_hours=hours,
        part_price_net=60.0,
        failure_consequence_net=80.0,
        safety=safety,
    )
    return Neighbour(costs, age, curve, curve)


def job(*neighbours: Neighbour, horizon: float = 4.0) -> OpenJob:
    return OpenJob(
        group=GEARBOX_OUT,
        neighbours=neighbours,
        failed=neighbours[0].component,
        degraded=frozenset(),
        horizon_years=horizon,
        labour_price_per_hour=70.0,
    )


GEARBOX_JOB = job(
    neighbour("clutch slave cylinder", 9.0, life(2.5, 12, spread=0.15, seed=1), hours=1.0),
    neighbour("rear main seal", 12.0, life(3.0, 14, spread=0.15, seed=2)),
    neighbour("gearbox mount", 12.0, life(2.0, 18, spread=0.15, seed=3)),
    neighbour("gear linkage bush", 12.0, life(1.2, 20, spread=0.15, seed=4)),
)


def advice(question: OpenJob, *, n_paths: int = 4000, seed: int = 5) -> WhileOpenAdvice:
    return renew_while_open(question, n_paths=n_paths, rng=np.random.default_rng(seed))


def expected_failures(curve: Weibull, age: float, horizon: float) -> float:
    """Failures of a position whose part is `age` old: G(t) + integral of M(t - x) dG(x)."""
    edges = np.linspace(0, horizon, 4001)
    failed = 1 - curve.survival(age + edges) / curve.survival(age)
    later = renewal_function(curve, horizon - (edges[1:] + edges[:-1]) / 2)
    return float(failed[-1] + later @ np.diff(failed))


@pytest.mark.parametrize("case", range(8))
def test_costs_agree_with_the_renewal_function_when_only_the_failed_is_renewed(case: int) -> None:
    rng = np.random.default_rng(case)
    curves = [Weibull(float(rng.uniform(0.7, 4)), float(rng.uniform(2, 12))) for _ in range(3)]
    ages = rng.uniform(0, 15, size=3)
    question = job(
        *(
            neighbour(f"part {i}", float(age), life(curve.shape, curve.scale))
            for i, (age, curve) in enumerate(zip(ages, curves, strict=True))
        ),
        horizon=float(rng.uniform(1, 6)),
    )
    choices = bundles(question)
    cost, _ = horizon_costs(
        question,
        sampled_paths(question, n_paths=20_000, rng=rng),
        only_the_failed(question),
        bundles=choices,
        ages=np.tile(question.ages, (len(choices), 1)),
    )
    new = choices | np.array([True, False, False])
    for row in range(len(choices)):
        failures = [
            expected_failures(curve, 0.0 if new[row, c] else float(ages[c]), question.horizon_years)
            for c, curve in enumerate(curves)
        ]
        expected = choices[row] @ question.renewal_costs + failures @ question.failure_costs
        error = cost[row].std() / math.sqrt(cost.shape[1])
        assert abs(cost[row].mean() - expected) < 3.5 * error


def test_the_best_bundle_is_the_least_expected_and_the_table_holds_every_bundle() -> None:
    answer = advice(GEARBOX_JOB)
    first = answer.table.row(0, named=True)
    assert answer.table.height == 8
    assert first["renew_now"] == " + ".join(answer.best)
    assert first["expected_cost_net"] == answer.expected_cost_net
    assert first["more_than_best_net"] == first["standard_error_net"] == 0
    assert answer.expected_cost_net < min(answer.leave_all_cost_net, answer.renew_all_cost_net)
    assert answer.table["probability_best"].sum() == pytest.approx(1)
    assert (answer.table["lower_cost_net"] <= answer.table["upper_cost_net"]).all()


def test_one_seed_gives_one_answer() -> None:
    assert advice(GEARBOX_JOB).table.equals(advice(GEARBOX_JOB).table)


def test_probability_agrees_with_pricing_every_bundle_under_each_draw() -> None:
    slave, _, mount, bush = GEARBOX_JOB.neighbours
    question = replace(GEARBOX_JOB, neighbours=(slave, replace(mount, age_years=8.0), bush))
    choices = bundles(question)
    rng = np.random.default_rng(3)
    n_draws, wins = 150, np.zeros(len(choices))
    for pick in rng.integers(2000, size=(n_draws, 3)):
        known = replace(question, neighbours=tuple(map(under, question.neighbours, pick)))
        cost, _ = horizon_costs(
            known,
            sampled_paths(known, n_paths=3000, rng=rng),
            only_the_failed(question),
            bundles=choices,
            ages=np.tile(known.ages, (len(choices), 1)),
        )
        wins[cost.mean(axis=1).argmin()] += 1
    answer = advice(question, n_paths=20_000)
    share = wins[[" + ".join(answer.best) == text for text in names(question)]][0] / n_draws
    assert 0.2 < share < 0.9
    assert answer.probability_best == pytest.approx(share, abs=3 * math.sqrt(0.25 / n_draws))


def under(one: Neighbour, pick: int) -> Neighbour:
    draws = WeibullDraws(one.life.shape[[pick]], one.life.scale[[pick]], "years")
    return replace(one, life=draws, renewed_life=draws)


def names(question: OpenJob) -> list[str]:
    return [
        " + ".join(np.array(question.components)[row]) or NOTHING_MORE for row in bundles(question)
    ]


def test_a_part_that_does_not_wear_is_never_renewed_early() -> None:
    exponential = life(1.0, 3.0)
    answer = advice(
        job(*(neighbour(f"part {i}", 10.0, exponential) for i in range(3)), horizon=6.0)
    )
    assert answer.best == ()
    assert answer.probability_best == 1.0
    assert answer.break_even_ages["break_even_age_years"].null_count() == 2
    assert answer.break_even_ages["reason"].str.contains("costs more than it saves").all()
    renewals = answer.table.sort("renew_now")["more_than_best_net"].to_list()
    assert renewals == pytest.approx([0.0, 95.0, 190.0, 95.0])


def test_doubling_every_cost_changes_only_the_cost() -> None:
    dearer = tuple(
        replace(
            n,
            costs=replace(
                n.costs,
                part_price_net=2 * n.costs.part_price_net,
                failure_consequence_net=2 * n.costs.failure_consequence_net,
            ),
        )
        for n in GEARBOX_JOB.neighbours
    )
    doubled = replace(
        GEARBOX_JOB,
        neighbours=dearer,
        group=replace(GEARBOX_OUT, follow_on_cost_net=80.0),
        labour_price_per_hour=140.0,
    )
    before, after = advice(GEARBOX_JOB), advice(doubled)
    assert after.best == before.best
    assert after.expected_cost_net == pytest.approx(2 * before.expected_cost_net)
    assert after.break_even_ages.equals(before.break_even_ages)
    assert after.probability_best == before.probability_best


def test_dearer_access_favours_more_renewal() -> None:
    dearer = replace(GEARBOX_JOB, group=replace(GEARBOX_OUT, access_hours=12.0))
    before, after = advice(GEARBOX_JOB), advice(dearer)
    earlier = after.break_even_ages["break_even_age_years"]
    assert set(before.best) <= set(after.best)
    assert (earlier < before.break_even_ages["break_even_age_years"]).all()


def test_a_longer_horizon_never_costs_less() -> None:
    costs = [advice(replace(GEARBOX_JOB, horizon_years=h)).expected_cost_net for h in (1, 3, 6, 10)]
    assert costs == sorted(costs)


def test_at_the_break_even_age_leaving_and_renewing_cost_the_same() -> None:
    slave, _, mount, _ = GEARBOX_JOB.neighbours
    answer = advice(job(slave, mount), n_paths=20_000)
    age, reason = answer.break_even_ages.select("break_even_age_years", "reason").row(0)
    older = advice(job(slave, replace(mount, age_years=age + 0.5)), n_paths=20_000)
    younger = advice(job(slave, replace(mount, age_years=age - 0.5)), n_paths=20_000)
    even = advice(job(slave, replace(mount, age_years=age)), n_paths=20_000)
    assert reason == PAYS_ABOVE
    assert (younger.best, older.best) == ((), ("gearbox mount",))
    assert even.leave_all_cost_net == pytest.approx(even.renew_all_cost_net, abs=2.0)


def test_a_degraded_safety_part_is_renewed_whatever_the_money_says() -> None:
    pipe = neighbour("brake pipe above the axle", 0.5, life(6.0, 30), hours=9.0, safety=True)
    bush = neighbour("anti-roll bar bushes", 1.0, life(2.0, 9))
    sound = advice(job(bush, pipe))
    degraded = advice(replace(job(bush, pipe), degraded=frozenset({pipe.component})))
    assert sound.best == ()
    assert degraded.best == (pipe.component,)
    assert degraded.expected_cost_net > degraded.leave_all_cost_net
    assert degraded.table.filter("allowed")["renew_now"].to_list() == [pipe.component]
    assert degraded.break_even_ages.row(0)[2:] == (0.0, DEGRADED_SAFETY)
    assert degraded.probability_best == 1.0
    assert "renewed whatever it costs" in degraded.notes[0]


@pytest.mark.parametrize("seed", range(20))
def test_no_money_ever_leaves_a_degraded_safety_part(seed: int) -> None:
    rng = np.random.default_rng(seed)
    parts = [
        neighbour(
            f"part {i}",
            float(rng.uniform(0, 15)),
            life(float(rng.uniform(0.6, 4)), float(rng.uniform(3, 60))),
            hours=float(rng.uniform(0.2, 20)),
            safety=bool(rng.random() < 0.5),
        )
        for i in range(4)
    ]
    found = frozenset(p.component for p in parts if rng.random() < 0.5)
    answer = advice(replace(job(*parts), degraded=found), n_paths=200)
    must = {p.component for p in parts if p.costs.safety} & found - {"part 0"}
    assert must <= set(answer.best)
    for renew_now, is_allowed in answer.table.select("renew_now", "allowed").iter_rows():
        assert is_allowed == (must <= set(renew_now.split(" + ")))


def test_a_degraded_part_of_unknown_delay_is_said_to_be_priced_as_running() -> None:
    answer = advice(replace(GEARBOX_JOB, degraded=frozenset({"gearbox mount"})))
    assert answer.notes == (
        "gearbox mount: found degraded, but how long such a part lasts is not known, so it is "
        "priced as a running part of its age and renewing it is worth more than shown",
    )


def test_a_reservoir_behind_the_engine_is_renewed_when_out_and_not_alone() -> None:
    # common practice, no source: renewed whenever the engine is out, never fetched alone
    engine_out = AccessGroup("engine lowered", access_hours=9.0, follow_on_cost_net=60.0)
    reservoir = neighbour("coolant reservoir", 11.0, life(3.0, 15, spread=0.1), hours=0.3)
    answer = advice(replace(job(reservoir), group=engine_out, failed=None, horizon_years=5.0))
    opening = 9.0 * 70.0 + 60.0
    assert answer.best == ("coolant reservoir",)
    assert answer.leave_all_cost_net < opening + answer.renew_all_cost_net


def test_later_openings_that_renew_worn_neighbours_save_over_a_long_horizon() -> None:
    worn = life(4.0, 5.0)
    question = job(*(neighbour(f"part {i}", 3.0, worn) for i in range(3)), horizon=12.0)
    answer = advice(question)
    only, threshold = answer.policies["best_expected_cost_net"]
    assert answer.later_policy == past_a_threshold(question).name
    assert threshold < 0.95 * only


def test_only_the_failed_part_within_reach_is_no_choice() -> None:
    answer = advice(job(GEARBOX_JOB.neighbours[0]))
    assert answer.best == ()
    assert answer.table.height == 1
    assert answer.break_even_ages.height == 0
    assert answer.break_even_ages.schema["break_even_age_years"] == pl.Float64


def test_what_is_not_there_is_named() -> None:
    with pytest.raises(ValueError, match="flywheel named failed, degraded or sound, wanted one"):
        replace(GEARBOX_JOB, failed="flywheel")
    with pytest.raises(ValueError, match="horizon_years is 0, wanted above 0"):
        replace(GEARBOX_JOB, horizon_years=0)
    with pytest.raises(ValueError, match="wanted one or more, each once"):
        replace(GEARBOX_JOB, neighbours=GEARBOX_JOB.neighbours * 2)
    with pytest.raises(ValueError, match="age_years is -1, wanted a finite age"):
        replace(GEARBOX_JOB.neighbours[0], age_years=-1)
    with pytest.raises(ValueError, match="5 paths, wanted 100 or more"):
        advice(GEARBOX_JOB, n_paths=5)
