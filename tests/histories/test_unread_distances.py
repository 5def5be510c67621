"""Distances that nobody read, drawn: through every reading, never back, as uneven as the fleet."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wornby.histories.pace import annual_distance, fleet_pace
from wornby.histories.unread_distances import odometer_draws, plausible_distances

NEW = date(2008, 1, 1)
FLEET = [
    ("A", 0, 0.0), ("A", 1461, 40_000.0), ("A", 2922, 88_000.0),
    ("B", 0, 0.0), ("B", 1461, 20_000.0), ("B", 2922, 36_000.0),
]  # fmt: skip


def read(rows: list[tuple[str, int, float]]) -> pl.DataFrame:
    """Readings of (vehicle, days since new, miles)."""
    dated = [(v, NEW + timedelta(days=d), mi) for v, d, mi in rows]
    schema = {"vehicle": pl.String, "date": pl.Date, "odometer_mi": pl.Float64}
    return pl.DataFrame(dated, schema=schema, orient="row").sort("date")


def asked(vehicle: str, days: list[int]) -> pl.DataFrame:
    """Days on which a vehicle's odometer is wanted."""
    dates = [NEW + timedelta(days=d) for d in days]
    return pl.DataFrame({"vehicle": vehicle, "date": dates}, schema_overrides={"date": pl.Date})


def test_a_day_that_was_read_comes_as_it_was_read() -> None:
    drawn = odometer_draws(
        asked("A", [0, 1461, 2922]), read(FLEET), n_draws=4, rng=np.random.default_rng(1)
    )
    assert drawn.tolist() == [[0.0, 40_000.0, 88_000.0]] * 4


def test_between_two_readings_the_middle_is_as_doubtful_as_a_beta_share() -> None:
    """By hand: mean halfway; the share of half a gap of g years is Beta with both parameters
    g / (2 within), so its variance is 1 / (4 (g / within + 1))."""
    readings = read(FLEET)
    drawn = odometer_draws(
        asked("A", [1461 + 731]), readings, n_draws=20_000, rng=np.random.default_rng(2)
    )[:, 0]
    within = fleet_pace(readings).within
    assert within is not None
    sd = 48_000 * np.sqrt(1 / (4 * (4 / within + 1)))
    assert drawn.mean() == pytest.approx(64_000, abs=4 * sd / np.sqrt(20_000) + 20)
    assert drawn.std() == pytest.approx(sd, rel=0.03)


def test_beyond_the_last_reading_doubt_grows_with_time_and_with_an_unsure_pace() -> None:
    """The variance of pace x t is made of the pace's own and of within x t, both around it."""
    readings = read([*FLEET, ("C", 0, 0.0), ("C", 365, 9_000.0)])
    drawn = odometer_draws(
        asked("C", [365 + 365, 365 + 730]), readings, n_draws=20_000, rng=np.random.default_rng(3)
    )
    pace = annual_distance(readings, confidence=0.9).filter(vehicle="C").row(0, named=True)
    within = fleet_pace(readings).within
    assert within is not None
    log_sd = np.log(pace["upper"] / pace["pooled_pace"]) / 1.6448536
    for column, years in ((0, 365 / 365.25), (1, 730 / 365.25)):
        gone = drawn[:, column] - 9_000
        mean = pace["pooled_pace"] * years * np.exp(log_sd**2 / 2)
        square = np.exp(log_sd**2) * (1 + within / years) - 1
        assert gone.mean() == pytest.approx(mean, rel=0.01)
        assert gone.std() == pytest.approx(mean * np.sqrt(square), rel=0.04)


@given(
    st.lists(st.tuples(st.integers(1, 900), st.floats(0, 30_000)), max_size=5),
    st.lists(st.integers(0, 4_000), min_size=2, max_size=8, unique=True),
)
def test_drawn_distances_never_run_back_and_keep_to_the_readings(
    steps: list[tuple[int, float]], days: list[int]
) -> None:
    at = np.cumsum([d for d, _ in steps]).astype(int).tolist()
    miles = np.cumsum([mi for _, mi in steps]).tolist()
    told = [("C", 0, 0.0), *(("C", d, mi) for d, mi in zip(at, miles, strict=True))]
    wanted = sorted({*days, *at})
    drawn = odometer_draws(
        asked("C", wanted), read([*FLEET, *told]), n_draws=3, rng=np.random.default_rng(4)
    )
    assert np.isfinite(drawn).all()
    assert (np.diff(drawn, axis=1) >= -1e-6).all()
    for day, mi in zip(at, miles, strict=True):
        assert drawn[:, wanted.index(day)] == pytest.approx([mi] * 3, abs=1e-6)


def test_a_part_in_service_is_followed_no_further_than_the_readings_carry() -> None:
    """Two parts fitted to A at 40,000 miles: ten years after its last reading one counts as the
    other a year and a half after it, as in the histories."""
    lives = pl.DataFrame(
        {
            "vehicle": ["A", "A"],
            "entry_days": [0, 0],
            "sound_days": [1461, 1461 + 548],
            "exit_days": [1461 + 548, 1461 + 3650],
            "entered_on": [NEW + timedelta(days=1461)] * 2,
        }
    )
    rng = np.random.default_rng(5)
    drawn = plausible_distances(lives, read(FLEET), n_draws=5, rng=rng)
    exit_ = drawn["exit_mi"]
    assert (drawn["entry_mi"] == 0).all()
    assert (exit_[:, 0] == exit_[:, 1]).all()
    assert (drawn["sound_mi"][:, 0] == 48_000).all()
    assert (exit_ > 48_000).all()
