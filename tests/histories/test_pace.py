"""How far a vehicle goes in a year: its own readings where they tell, the fleet's where not."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from math import exp, log, sqrt

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wornby.histories.distance import odometer_on
from wornby.histories.pace import annual_distance, between_variance, fleet_pace

NEW = date(2008, 1, 1)
READINGS = {"vehicle": pl.String, "date": pl.Date, "odometer_mi": pl.Float64}


def read(vehicles: Mapping[str, Sequence[tuple[float, float]]]) -> pl.DataFrame:
    """Readings from new: of each vehicle (years since new, miles)."""
    rows = [
        (name, NEW + timedelta(days=round(365.25 * years)), miles)
        for name, told in vehicles.items()
        for years, miles in [(0.0, 0.0), *told]
    ]
    return pl.DataFrame(rows, schema=READINGS, orient="row").sort("date")


TWO = {"A": [(4, 40_000.0), (8, 88_000.0)], "B": [(4, 20_000.0), (8, 36_000.0)]}


def test_the_fleet_is_told_from_how_unevenly_each_is_driven_and_how_much_they_differ() -> None:
    """By hand. A goes 11,000 a year, first 10,000 then 12,000: 4 x 2 / 121 over one degree of
    freedom; B 4,500, first 5,000 then 4,000: 4 x 2 / 81."""
    fleet = fleet_pace(read(TWO))
    within = (8 / 121 + 8 / 81) / 2
    between = log(11_000 / 4_500) ** 2 / 2 - within / 8
    assert fleet.within == pytest.approx(within)
    assert fleet.between == pytest.approx(between)
    assert fleet.log_mean == pytest.approx((log(11_000) + log(4_500)) / 2)


def test_a_pooled_pace_weighs_the_vehicles_own_by_how_sure_it_is() -> None:
    """By hand: the fleet's share is error / (error + between), the variance its product."""
    made = annual_distance(read(TWO), confidence=0.90).row(0, named=True)
    error = (8 / 121 + 8 / 81) / 2 / 8
    between = log(11_000 / 4_500) ** 2 / 2 - error
    pull = error / (error + between)
    middle = (1 - pull) * log(11_000) + pull * log(sqrt(11_000 * 4_500))
    assert made["pull"] == pytest.approx(pull)
    assert made["pooled_pace"] == pytest.approx(exp(middle))
    reach = 1.6448536 * sqrt(pull * between)
    assert made["upper"] == pytest.approx(exp(middle + reach), rel=1e-6)
    assert made["lower"] == pytest.approx(exp(middle - reach), rel=1e-6)


def test_the_variance_between_is_dersimonian_and_lairds() -> None:
    """By hand, for errors that differ: weights 2 and 1 about a mean of 4/3."""
    assert between_variance(np.array([0.0, 4.0]), np.array([0.5, 1.0])) == pytest.approx(
        (2 * (4 / 3) ** 2 + (8 / 3) ** 2 - 1) / (3 - 5 / 3)
    )
    assert between_variance(np.array([1.0, 1.1]), np.array([5.0, 5.0])) == 0.0


def drawn_fleet(n: int, *, spread: float, uneven: float, rng: np.random.Generator) -> pl.DataFrame:
    """A fleet read yearly for eight years, whose paces and unevenness are known."""
    paces = 8_000 * np.exp(spread * rng.normal(size=n))
    steps = rng.gamma(1 / uneven**2, uneven**2, size=(n, 8)) * paces[:, None]
    miles = steps.cumsum(axis=1)
    told = {f"V{v:04}": [(y + 1.0, float(miles[v, y])) for y in range(8)] for v in range(n)}
    return read(told)


def test_a_drawn_fleet_gives_back_what_it_was_drawn_from() -> None:
    fleet = fleet_pace(drawn_fleet(800, spread=0.5, uneven=0.3, rng=np.random.default_rng(3)))
    assert fleet.log_mean is not None
    assert fleet.between is not None
    assert fleet.within is not None
    assert exp(fleet.log_mean) == pytest.approx(8_000, rel=0.05)
    assert sqrt(fleet.between) == pytest.approx(0.5, rel=0.08)
    assert sqrt(fleet.within) == pytest.approx(0.3, rel=0.05)


def test_limits_hold_the_true_pace_as_often_as_they_say() -> None:
    """Vehicles read once, half a year after new: each is pulled, and nine in ten limits hold."""
    rng = np.random.default_rng(5)
    known = drawn_fleet(300, spread=0.5, uneven=0.3, rng=rng)
    paces = 8_000 * np.exp(0.5 * rng.normal(size=500))
    first = paces * rng.gamma(0.5 / 0.09, 0.09, size=500)
    once = {f"X{n:04}": [(0.5, float(first[n]))] for n in range(500)}
    made = annual_distance(pl.concat([known, read(once)]).sort("date"), confidence=0.90)
    young = made.filter(pl.col("vehicle").str.starts_with("X")).sort("vehicle")
    inside = (young["lower"].to_numpy() <= paces) & (paces <= young["upper"].to_numpy())
    assert 0.86 < inside.mean() < 0.94
    off, own = (np.log(young[c].to_numpy() / paces) for c in ("pooled_pace", "own_pace"))
    assert (off**2).mean() < 0.8 * (own**2).mean()


def test_a_vehicle_never_read_takes_the_fleets_pace() -> None:
    made = annual_distance(read({**TWO, "C": []}), confidence=0.90).filter(vehicle="C")
    row = made.row(0, named=True)
    assert (row["readings"], row["own_pace"], row["pull"]) == (0, None, 1.0)
    assert row["pooled_pace"] == pytest.approx(sqrt(11_000 * 4_500), rel=1e-3)


def test_where_nothing_tells_how_unevenly_vehicles_are_driven_each_keeps_its_own_pace() -> None:
    made = annual_distance(read({"A": [(4, 40_000.0)], "B": [(4, 20_000.0)]}), confidence=0.90)
    assert made["pooled_pace"].to_list() == [10_000.0, 5_000.0]
    assert made["lower"].to_list() == [None, None]
    assert made["pull"].to_list() == [0.0, 0.0]


def test_vehicles_that_go_alike_all_take_the_fleets_pace() -> None:
    uneven = {v: [(4, 4 * p), (8, 80_000.0)] for v, p in (("A", 8_000.0), ("B", 12_000.0))}
    assert annual_distance(read(uneven), confidence=0.9)["pull"].to_list() == [1.0, 1.0]


def test_a_short_history_is_carried_on_nearer_to_the_fleets_pace() -> None:
    """Read once, a tenth of a year after new, at twice the fleet's pace: a holiday, most likely."""
    known = drawn_fleet(60, spread=0.3, uneven=0.3, rng=np.random.default_rng(8))
    young = read({"Y": [(0.1, 1_600.0)]})
    asked = pl.DataFrame({"vehicle": ["Y"], "date": [NEW + timedelta(days=37 + 365)]})
    told = odometer_on(asked, pl.concat([known, young]).sort("date")).row(0, named=True)
    assert told["carried"]
    assert 1_600 + 8_000 < told["odometer_mi"] < 1_600 + 12_000


STEPS = st.lists(
    st.tuples(st.floats(0.05, 3), st.floats(0, 30_000)), min_size=0, max_size=5
)  # years since the last reading, miles gone in them


@given(st.dictionaries(st.sampled_from("ABCDE"), STEPS, min_size=1))
def test_a_pooled_pace_lies_between_the_vehicles_own_and_the_fleets(
    driven: dict[str, list[tuple[float, float]]],
) -> None:
    told = {
        name: list(zip(np.cumsum([y for y, _ in steps]), np.cumsum([m for _, m in steps]),
                       strict=True))
        for name, steps in driven.items()
    }  # fmt: skip
    readings = read(told)
    fleet = fleet_pace(readings).log_mean
    for row in annual_distance(readings, confidence=0.9).to_dicts():
        if fleet is None:
            assert row["pooled_pace"] is None
            continue
        ends = [exp(fleet), row["own_pace"] if row["own_pace"] is not None else exp(fleet)]
        assert min(ends) * (1 - 1e-9) <= row["pooled_pace"] <= max(ends) * (1 + 1e-9)
        assert 0 <= row["pull"] <= 1
        if row["lower"] is not None:
            assert row["lower"] <= row["pooled_pace"] <= row["upper"]


@given(STEPS, st.lists(st.integers(0, 5_000), min_size=2, max_size=8))
def test_distances_never_run_back(steps: list[tuple[float, float]], days: list[int]) -> None:
    told = list(zip(np.cumsum([y for y, _ in steps]), np.cumsum([m for _, m in steps]),
                    strict=True))  # fmt: skip
    readings = read({"A": told, **TWO, "B": [(3, 10_000.0)]})
    asked = pl.DataFrame({"vehicle": "A", "date": [NEW + timedelta(days=d) for d in sorted(days)]})
    made = odometer_on(asked, readings)
    for column in ("odometer_mi", "at_least_mi"):
        miles = made[column].drop_nulls()
        assert (miles.diff().drop_nulls() >= -1e-6).all()
