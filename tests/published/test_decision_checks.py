"""Decisions against check values: each with its source and how far it may be called published.

The values are in decision_checks.json. Where the status there says "R only" the source named is
that of the method, and the number was computed with R.
"""

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from wornby.decisions.block import block_replacement, renewal_function
from wornby.decisions.inspect_when import (
    ExponentialDelay,
    FixedDelay,
    InspectionCosts,
    catch_share,
    inspection_cost_rate,
    inspection_interval,
)
from wornby.decisions.job_hours import lognormal_mean
from wornby.decisions.least_cost_age import RenewalAdvice
from wornby.decisions.long_run import mean_service
from wornby.decisions.renewal_age import age_replacement
from wornby.decisions.stock import base_stock, negative_binomial_demand, poisson_demand

DATA = json.loads((Path(__file__).parent / "decision_checks.json").read_text(encoding="utf-8"))
CHECKS: dict[str, dict[str, Any]] = {check["id"]: check for check in DATA["checks"]}


class Life:
    """A life distribution of scipy, as a curve."""

    def __init__(self, law: Any) -> None:
        self.law = law

    def survival(self, age: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(self.law.sf(np.asarray(age, dtype=np.float64)))


def weibull(shape: float) -> Life:
    return Life(stats.weibull_min(shape))


def ids(prefix: str) -> list[str]:
    return [name for name in CHECKS if name.startswith(prefix)]


def approx(check: str, value: Any = None) -> Any:
    tolerance = CHECKS[check]["tolerance"]
    wanted = CHECKS[check]["value"] if value is None else value
    if tolerance["type"] == "relative":
        return pytest.approx(wanted, rel=tolerance["value"], abs=0)
    return pytest.approx(wanted, rel=0, abs=tolerance["value"])


def numbers(advice: RenewalAdvice) -> list[float]:
    return [advice.age_years, advice.cost_rate, 1 - advice.saving]


def shape_and_last(check: str) -> tuple[float, float]:
    """A01.2.5.10 is shape 2.5 and ratio 10, A01.2.10 shape 2 and ratio 10; B01.2.0.5 likewise."""
    title = CHECKS[check]["title"]
    shape = title.split("shape ")[1].split(",")[0]
    return float(shape), float(title.rsplit("=", 1)[1])


@pytest.mark.parametrize("check", ids("A01"))
def test_age_replacement_of_a_weibull_life(check: str) -> None:
    shape, ratio = shape_and_last(check)
    advice = age_replacement(weibull(shape), planned_cost=1, failure_cost=ratio).advice
    assert numbers(advice) == approx(check)


def test_age_replacement_of_the_worked_example_with_a_scale() -> None:
    # printed minimum cost 0.00346204 for scale 1000, shape 2.5, costs 1 and 5: from memory
    life = Life(stats.weibull_min(2.5, scale=1000))
    advice = age_replacement(life, planned_cost=1, failure_cost=5).advice
    assert advice.cost_rate == pytest.approx(0.00346204, abs=5e-9)
    assert advice.age_years == pytest.approx(493.046958, rel=1e-6)


def test_age_replacement_of_a_normal_life() -> None:
    advice = age_replacement(Life(stats.norm(5, 1)), planned_cost=5, failure_cost=10).advice
    assert [advice.age_years, advice.cost_rate] == approx("A02")


def test_cost_rates_of_a_normal_life_at_whole_ages() -> None:
    service = mean_service(Life(stats.norm(5, 1)))
    rates = service.cost_rate(CHECKS["A02.tab"]["at"], planned=5, failure=10)
    assert list(rates) == approx("A02.tab")


@pytest.mark.parametrize(("shape", "at"), [(0.8, 0), (1.0, 1)])
def test_a_hazard_that_does_not_rise_is_run_to_failure(shape: float, at: int) -> None:
    advice = age_replacement(weibull(shape), planned_cost=1, failure_cost=10).advice
    assert advice.age_years == math.inf
    assert advice.cost_rate == approx("A03", CHECKS["A03"]["value"][1][at])


@pytest.mark.parametrize(("ratio", "at"), [(3, 0), (5, 1), (10, 2)])
def test_a_bounded_hazard_pays_only_above_its_cost_ratio(ratio: float, at: int) -> None:
    advice = age_replacement(Life(stats.gamma(2)), planned_cost=1, failure_cost=ratio).advice
    assert numbers(advice) == approx("A04", CHECKS["A04"]["value"][at])


def test_a_bounded_hazard_below_its_cost_ratio_is_run_to_failure() -> None:
    advice = age_replacement(Life(stats.gamma(2)), planned_cost=1, failure_cost=1.9).advice
    assert CHECKS["A04"]["value"][3] == ["Inf", 0.95]
    assert advice.age_years == math.inf
    assert advice.cost_rate == approx("A04", 0.95)


@pytest.mark.parametrize("check", ids("B01"))
def test_the_renewal_function_of_a_weibull_life(check: str) -> None:
    shape, age = shape_and_last(check)
    assert renewal_function(weibull(shape), age)[0] == approx(check)


@pytest.mark.parametrize("check", ids("B02"))
def test_block_replacement_of_a_weibull_life(check: str) -> None:
    shape, ratio = shape_and_last(check)
    advice = block_replacement(weibull(shape), planned_cost=1, failure_cost=ratio).advice
    assert [advice.age_years, advice.cost_rate] == approx(check)


def mean_in_title(check: str) -> float:
    return float(CHECKS[check]["title"].rsplit(" ", 1)[1])


@pytest.mark.parametrize("check", [c for c in ids("S01") if c != "S01.boundary"])
def test_base_stock_of_a_poisson_demand(check: str) -> None:
    demand = poisson_demand(mean_in_title(check))
    stocks = [
        base_stock(demand, service_level=level, promise="demand is met")
        for level in (0.90, 0.95, 0.99)
    ]
    assert stocks == CHECKS[check]["value"]


def test_the_chance_kept_by_the_stock_at_its_boundary() -> None:
    kept = []
    for mean in CHECKS["S01.boundary"]["at"]:
        demand = poisson_demand(mean)
        stock = base_stock(demand, service_level=0.95, promise="demand is met")
        kept.append(demand[: stock + 1].sum())
    assert kept == approx("S01.boundary")


def test_base_stock_that_leaves_one_on_the_shelf() -> None:
    stocks = [
        base_stock(poisson_demand(mean), service_level=0.95, promise="one is left")
        for mean in CHECKS["S02"]["at"]
    ]
    assert stocks == CHECKS["S02"]["value"]


def test_base_stock_of_a_lumpy_demand() -> None:
    stocks = [
        base_stock(
            negative_binomial_demand(mean, size=3.5), service_level=0.95, promise="demand is met"
        )
        for mean in CHECKS["S03.0.95"]["at"]
    ]
    assert stocks == CHECKS["S03.0.95"]["value"]


def test_the_mean_of_skewed_values() -> None:
    levels = np.array(DATA["datasets"]["co_levels"]["x"])
    mean = lognormal_mean(levels, confidence=0.95, unit="ppm")
    logs = np.log(levels)
    assert [logs.mean(), logs.var(ddof=1), mean.value] == approx("S04.a")
    assert [mean.lower, mean.upper] == approx("S04.b")
    assert CHECKS["S04.b"]["published_value"].startswith(f"{mean.lower:.5f}, {mean.upper:.5f}")


# the delay-time model with defects at 0.1, mean delay 20, downtimes 0.5 and 0.35 in one unit
DOWNTIME = InspectionCosts(
    inspection_net=0.35, failure_net=0.5, caught_net=0.0, out_of_use_years=0.35
)


@pytest.mark.parametrize("check", ids("D01"))
def test_defects_that_become_failures_and_downtime(check: str) -> None:
    interval = float(check.removeprefix("D01."))
    delay = ExponentialDelay(20.0)
    failing = 1 - catch_share(delay, interval_years=interval, detection=1.0)
    downtime = inspection_cost_rate(
        delay, interval_years=interval, detection=1.0, defects_per_year=0.1, costs=DOWNTIME
    )
    assert [failing, downtime] == approx(check)


def test_the_interval_with_the_least_downtime() -> None:
    advice = inspection_interval(
        ExponentialDelay(20.0), detection=1.0, defects_per_year=0.1, costs=DOWNTIME
    )
    assert [advice.interval_years, advice.cost_rate] == approx("D02.a")


@pytest.mark.parametrize(
    ("check", "delay", "interval", "detection"),
    [
        ("D03.3.2.0.8", 3.0, 2.0, 0.8),
        ("D03.3.1.0.8", 3.0, 1.0, 0.8),
        ("D03.2.5.1", 2.0, 5.0, 1.0),
    ],
)
def test_defects_caught_within_a_fixed_delay(
    check: str, delay: float, interval: float, detection: float
) -> None:
    share = catch_share(FixedDelay(delay), interval_years=interval, detection=detection)
    assert share == approx(check)
