"""What happens at the workshop hangs together, and its habits are those of the parameters."""

from collections.abc import Callable
from datetime import date

import numpy as np
import polars as pl
import pytest
from lifelines import WeibullFitter
from scipy import stats

from wornby.demo.fleet import DAYS_PER_YEAR, day_number
from wornby.demo.places import World
from wornby.demo.visits import Book

Made = Callable[[int], tuple[World, Book]]
N = 3_000
LAST_DAY = day_number(date(2024, 12, 31))


def watched(world: World, book: Book) -> pl.DataFrame:
    """Fitments with the rate and the first and last day on which a failure would be seen."""
    seen = book.visits.group_by("vehicle").agg(
        pl.col("day").min().alias("from"),
        pl.when(pl.col("loyal").last())
        .then(LAST_DAY)
        .otherwise(pl.col("day").max())
        .alias("until"),
    )
    rate = book.fleet.miles_per_year[book.fitments["vehicle"].to_numpy()]
    fitments = book.fitments.with_columns(rate=rate).join(seen, on="vehicle")
    return fitments.join(world.places.table(), on="place")


def test_every_place_is_filled_without_a_gap_from_first_registration_on(book_of: Made) -> None:
    _, book = book_of(N)
    place = ["vehicle", "place"]
    fitments = book.fitments.sort(*place, "fitted", "ended", nulls_last=True)
    before = fitments.with_columns(before=pl.col("ended").shift().over(place))
    first = before.filter(pl.int_range(pl.len()).over(place) == 0)
    later = before.filter(pl.int_range(pl.len()).over(place) > 0)
    assert first["original"].all()
    assert not later["original"].any()
    assert (first["fitted"] == book.fleet.registered[first["vehicle"].to_numpy()]).all()
    assert (later["fitted"] == later["before"]).all()
    in_service = fitments.group_by(place).agg((pl.col("how") == "in service").sum())["how"]
    assert (in_service == 1).all()


def test_a_failure_is_seen_within_two_weeks_and_a_day(book_of: Made) -> None:
    world, book = book_of(N)
    failures = watched(world, book).filter(pl.col("how") == "failure")
    distance = failures["component"].is_in(by_distance(world))
    years = pl.select(
        pl.when(distance).then(failures["life"] / failures["rate"]).otherwise(failures["life"])
    )
    late = (failures["ended"] - failures["fitted"] - years.to_series() * DAYS_PER_YEAR).to_numpy()
    assert late.min() >= 0
    assert late.max() <= 15


def by_distance(world: World) -> list[str]:
    return [n for n, d in zip(world.places.names, world.places.by_distance, strict=True) if d]


def test_nothing_renewed_early_had_failed(book_of: Made) -> None:
    world, book = book_of(N)
    early = watched(world, book).filter(
        pl.col("how").is_in(["degraded finding", "preventive renewal"])
    )
    years = pl.when(pl.col("component").is_in(by_distance(world))).then(
        pl.col("life") / pl.col("rate")
    )
    end = pl.col("fitted") + years.otherwise("life") * DAYS_PER_YEAR
    assert early.select((pl.col("ended") < end).all()).item()


def test_what_is_renewed_elsewhere_is_renewed_before_the_first_visit(book_of: Made) -> None:
    world, book = book_of(N)
    elsewhere = watched(world, book).filter(pl.col("how") == "failure elsewhere")
    assert elsewhere.height
    assert elsewhere.select((pl.col("ended") < pl.col("from")).all()).item()


def test_first_visits_fall_at_two_to_sixteen_years(book_of: Made) -> None:
    _, book = book_of(N)
    first = book.visits.filter("first")
    registered = book.fleet.registered[first["vehicle"].to_numpy()]
    age = (first["day"].to_numpy() - registered) / DAYS_PER_YEAR
    assert first.height == N
    assert 2 - 1 / 365 <= age.min() < 3
    assert 15 < age.max() <= 16


def test_every_van_is_seen_within_the_records(book_of: Made) -> None:
    _, book = book_of(N)
    assert book.visits["day"].is_between(day_number(date(2013, 1, 1)), LAST_DAY).all()


def rate_is(count: int, n: int, rate: float) -> bool:
    """Whether a count of n could well come from the rate: 1 in 10,000 would not."""
    low, high = stats.binom.interval(1 - 1e-4, n, rate)
    return bool(low <= count <= high)


def test_one_owner_in_eleven_stays_away_after_a_visit(book_of: Made) -> None:
    _, book = book_of(N)
    assert rate_is(book.visits.filter(~pl.col("loyal")).height, book.visits.height, 0.09)


def test_about_one_van_in_seven_first_comes_with_a_failure(book_of: Made) -> None:
    """The 15 % that wait for a failure, less those that never come, and some by chance."""
    _, book = book_of(N)
    failed = book.outcomes.filter(pl.col("cause") == "failure").select("vehicle", "day").unique()
    first = book.visits.filter("first").join(failed, on=["vehicle", "day"], how="semi")
    assert 0.11 < first.height / N < 0.17


def test_grades_are_fitted_in_their_shares(book_of: Made) -> None:
    _, book = book_of(N)
    single = book.outcomes.filter(pl.col("place") == 0)["grade"]
    counts = np.bincount(single.to_numpy(), minlength=3)
    assert stats.chisquare(counts, np.array([0.45, 0.35, 0.20]) * single.len()).pvalue > 1e-4


def test_services_come_once_a_year(book_of: Made) -> None:
    _, book = book_of(N)
    quiet = book.visits.sort("vehicle", "day").with_columns(
        gap=(pl.col("day") - pl.col("day").shift().over("vehicle")) / DAYS_PER_YEAR,
        after=pl.col("service").shift().over("vehicle"),
    )
    gaps = quiet.filter("service", "after")["gap"]
    assert gaps.mean() == pytest.approx(1.0, abs=0.03)


def test_precautions_look_at_age_and_not_at_what_is_left(book_of: Made) -> None:
    """Given that it had reached its age, a part's life has the Weibull's own remainder.

    If parts were chosen with an eye on their remaining life, the chance of surviving so long
    given the age at renewal would not be uniform.
    """
    world, book = book_of(N)
    untold = [n for n, life in world.parameters.lives.items() if not life.degraded_years]
    chosen = watched(world, book).filter(
        pl.col("original"), pl.col("how") == "preventive renewal", pl.col("component").is_in(untold)
    )
    place = chosen["place"].to_numpy()
    years = (chosen["ended"] - chosen["fitted"]).to_numpy() / DAYS_PER_YEAR
    age = np.where(world.places.by_distance[place], years * chosen["rate"].to_numpy(), years)
    shape, scale = world.places.shape[place], world.places.scale[place]
    left = (chosen["life"].to_numpy() / scale) ** shape - (age / scale) ** shape
    assert stats.kstest(np.exp(-left), "uniform").pvalue > 1e-4


@pytest.mark.parametrize(
    "name", ["clutch slave cylinder", "heater matrix", "thermostat", "gearbox mount"]
)
def test_lifelines_recovers_the_truth_from_what_was_seen(name: str, book_of: Made) -> None:
    """Delayed entry at the first visit, exit where watching really ended; lifelines 0.30.3."""
    world, book = book_of(N)
    seen = (
        watched(world, book)
        .filter(pl.col("component") == name, "original")
        .with_columns(
            entry=pl.col("from") - pl.col("fitted"),
            exit=pl.min_horizontal(pl.col("ended").fill_null(LAST_DAY), "until") - pl.col("fitted"),
            failed=pl.col("how") == "failure",
        )
    )
    per_day = np.full(seen.height, 1 / DAYS_PER_YEAR)
    if name in by_distance(world):
        per_day *= seen["rate"].to_numpy() / 10_000
    seen = seen.with_columns(pl.col("entry", "exit") * per_day)
    seen = seen.filter(pl.col("exit") > pl.col("entry"))
    fit = WeibullFitter().fit(
        seen["exit"].to_numpy(), seen["failed"].to_numpy(), entry=seen["entry"].to_numpy()
    )
    truth = world.parameters.lives[name]
    scale = truth.scale_value / (10_000 if name in by_distance(world) else 1)
    errors = fit.summary["se(coef)"]
    assert fit.rho_ == pytest.approx(truth.shape, abs=4 * errors["rho_"])
    assert fit.lambda_ == pytest.approx(scale, abs=4 * errors["lambda_"])
