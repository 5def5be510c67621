"""Distances that were never read, drawn as the readings leave them: several plausible histories."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.stats import norm

from wornby.histories.counts import DAYS_PER_YEAR
from wornby.histories.distance import CARRIED_DAYS
from wornby.histories.pace import annual_distance, fleet_pace

Array = NDArray[np.float64]
CONFIDENCE = 0.9
LEAST = 1e-200
"""Gamma steps below this have underflowed: the distance is then spread evenly."""


@dataclass(frozen=True, eq=False, slots=True)
class Gaps:
    """Stretches from one reading to the next of a vehicle, or on from its last.

    Points are the days asked for and the days read, in order of vehicle and day; `years` leads
    to each from the point before it. `starts` is the first point of each gap, `gap` the gap of
    each point. `gain` is the distance gone over a gap, null (nan) where no reading closes it;
    then `pace` and `log_error` say how far the vehicle goes in a year.
    """

    years: Array
    starts: NDArray[np.intp]
    gap: NDArray[np.intp]
    start_mi: Array
    gain: Array
    pace: Array
    log_error: Array


def plausible_distances(
    lives: pl.DataFrame, readings: pl.DataFrame, *, n_draws: int, rng: np.random.Generator
) -> dict[str, Array]:
    """Distance on each fitment: entry_mi, sound_mi and exit_mi, a row a draw, a column an episode.

    Takes episodes with a distance at both ends and readings from new. As in the histories a
    part in service is followed for at most `CARRIED_DAYS` after the last reading.
    """
    last = readings.group_by("vehicle").agg(until=pl.col("date").max())
    known = lives.join(last, on="vehicle", how="left", maintain_order="left")
    fitted = pl.col("entered_on") - pl.duration(days=pl.col("entry_days"))
    until = pl.col("until") + pl.duration(days=CARRIED_DAYS)
    ages = pl.duration(days=pl.col("sound_days")), pl.duration(days=pl.col("exit_days"))
    sound, exited = (pl.min_horizontal(fitted + age, until) for age in ages)
    asked = (fitted, pl.col("entered_on"), sound, exited)
    days = pl.concat([known.select("vehicle", date=day) for day in asked])
    drawn = odometer_draws(days, readings, n_draws=n_draws, rng=rng)
    at_fitting, *rest = np.split(drawn, len(asked), axis=1)
    names = ("entry_mi", "sound_mi", "exit_mi")
    return {name: miles - at_fitting for name, miles in zip(names, rest, strict=True)}


def odometer_draws(
    days: pl.DataFrame, readings: pl.DataFrame, *, n_draws: int, rng: np.random.Generator
) -> Array:
    """Plausible odometers on each (vehicle, date) asked: one row a draw, one column a day.

    Distance grows as a gamma process (van Noortwijk 2009, section 2): over t years it has the
    mean pace x t and the squared coefficient of variation `within` / t of `pace.FleetPace`. It
    never runs back, and between two readings it passes through both: the shares of the
    distance between them are Dirichlet. After the last reading the pace is drawn too. Days
    come on or after the vehicle's first reading; those that were read come as they were read.
    """
    asked = days.select("vehicle", "date")
    known = readings.select("vehicle", "date", "odometer_mi")
    points = (
        asked.unique()
        .join(known, on=["vehicle", "date"], how="full", coalesce=True)
        .sort("vehicle", "date")
        .with_row_index("point")
    )
    within = fleet_pace(readings).within
    odometers = _paths(_gaps(points, readings), within or 0.0, n_draws=n_draws, rng=rng)
    placed = asked.join(points, on=["vehicle", "date"], how="left", maintain_order="left")
    return np.asarray(odometers[:, placed["point"].to_numpy()])


def _gaps(points: pl.DataFrame, readings: pl.DataFrame) -> Gaps:
    """The gaps between the readings of all vehicles, end to end."""
    paces = annual_distance(readings, confidence=CONFIDENCE)
    log_error = (pl.col("upper") / pl.col("pooled_pace")).log() / norm.ppf((1 + CONFIDENCE) / 2)
    told = points.join(
        paces.select("vehicle", "pooled_pace", log_error=log_error.fill_null(0.0)),
        on="vehicle",
        how="left",
        maintain_order="left",
    )
    first = (told["vehicle"] != told["vehicle"].shift(1)).fill_null(True).to_numpy()
    read = told["odometer_mi"].is_not_null().to_numpy()
    mi = told["odometer_mi"].fill_null(float("nan")).to_numpy()
    opens = first | np.append(False, read[:-1])
    starts = np.flatnonzero(opens)
    ends = np.append(starts[1:], opens.size) - 1
    start_mi = np.where(first[starts], mi[starts], mi[starts - 1])
    days = told["date"].to_physical().to_numpy().astype(np.float64)
    return Gaps(
        years=np.where(first, 0.0, np.diff(days, prepend=days[:1])) / DAYS_PER_YEAR,
        starts=starts,
        gap=np.cumsum(opens) - 1,
        start_mi=start_mi,
        gain=np.where(first[starts], 0.0, mi[ends] - start_mi),
        pace=told["pooled_pace"].fill_null(0.0).to_numpy()[starts],
        log_error=told["log_error"].to_numpy()[starts],
    )


def _paths(gaps: Gaps, within: float, *, n_draws: int, rng: np.random.Generator) -> Array:
    """Odometers at every point, one row a draw."""
    shape = (n_draws, gaps.years.size)
    even = np.broadcast_to(gaps.years, shape)
    # with a mean of one a year, whatever the unevenness
    steps = rng.gamma(even / within, within) if within > 0 else even
    total = np.add.reduceat(steps, gaps.starts, axis=1)
    steps = np.where((total < LEAST)[:, gaps.gap], even, steps)
    total = np.maximum(np.add.reduceat(steps, gaps.starts, axis=1), LEAST)
    pace = gaps.pace * np.exp(gaps.log_error * rng.normal(size=(n_draws, gaps.starts.size)))
    closed = np.isfinite(gaps.gain)
    goes = np.where(closed, gaps.gain, pace)[:, gaps.gap]
    miles = steps / np.where(closed, total, 1.0)[:, gaps.gap] * goes
    gone = np.cumsum(miles, axis=1)
    before = (gone - miles)[:, gaps.starts]
    return np.asarray(gaps.start_mi[gaps.gap] + gone - before[:, gaps.gap])
