"""What may be turned up in the world does what it says; turned down, it draws no number."""

from dataclasses import replace
from typing import Any

import numpy as np
import polars as pl
import pytest
from scipy import stats

from wornby.demo import WorldParameters
from wornby.demo.fleet import DAYS_PER_YEAR, Fleet, frailties, happens, new_fleet, renewed_lives
from wornby.demo.parameters import TRUE_LIVES, Recall, TrueLife
from wornby.demo.places import World, merrow_world
from wornby.demo.survey import survey_answers
from wornby.demo.truth import lives_from_new
from wornby.demo.visits import Book, workshop_book

N = 1_500


def world_with(**changes: Any) -> World:
    return merrow_world(replace(WorldParameters(), n_vehicles=N, **changes))


def book_with(**changes: Any) -> tuple[World, Book]:
    world = world_with(**changes)
    return world, workshop_book(world, np.random.default_rng(3))


def fleet_with(n: int, **changes: Any) -> tuple[World, Fleet]:
    world = world_with(**changes)
    return world, new_fleet(n, world=world, rng=np.random.default_rng(4))


def gathered(lives: np.ndarray, life: TrueLife) -> np.ndarray:
    """The hazard gathered at the end of each life by a van whose frailty is 1."""
    return np.asarray((lives / life.scale_value) ** life.shape)


def test_what_never_happens_draws_no_random_number() -> None:
    rng, other = np.random.default_rng(1), np.random.default_rng(1)
    assert not happens(0.0, 5, rng).any()
    assert (frailties(5, world_with(), rng) == 1).all()
    assert rng.random() == other.random()


def test_what_always_happens_does() -> None:
    assert happens(1.0, (2, 3), np.random.default_rng(1)).all()


@pytest.mark.parametrize("name", ["clutch slave cylinder", "belt tensioner"])
def test_mixed_wear_adds_what_the_other_scale_adds(name: str) -> None:
    """A life is used up by the years and the miles together, whatever the van's rate."""
    life = TRUE_LIVES[name]
    added = 1 / 8_000 if life.scale_value < 100 else 4_000.0
    lives = {**TRUE_LIVES, name: replace(life, added_by_other=added)}
    world, fleet = fleet_with(500, lives=lives)
    place = world.places.of(name)
    years = (fleet.fails[:, place] - fleet.registered) / DAYS_PER_YEAR
    miles = years * fleet.miles_per_year
    wear = years + added * miles if life.scale_value < 100 else miles + added * years
    np.testing.assert_allclose(wear, fleet.life[:, place])


def test_lives_under_gamma_frailty_are_burr() -> None:
    """S = (1 + v H)^(-1/v); Vaupel, Manton & Stallard (1979), from memory."""
    variance = 0.8
    world = world_with(frailty_variance=variance)
    lives = lives_from_new(world, 5_000, np.random.default_rng(5))
    for name in ("heater matrix", "belt tensioner"):
        hazard = gathered(lives[:, world.places.of(name)], TRUE_LIVES[name])
        chance = (1 + variance * hazard) ** (-1 / variance)
        assert stats.kstest(chance, "uniform").pvalue > 1e-4


def test_gamma_frailty_ties_the_parts_of_a_van() -> None:
    """Kendall's tau is v / (v + 2) for a shared gamma frailty; Clayton (1978), from memory."""
    world, fleet = fleet_with(4_000, frailty_variance=0.8)
    two = [world.places.of(name) for name in ("heater matrix", "thermostat")]
    tau = stats.kendalltau(*fleet.life[:, two].T).statistic
    assert tau == pytest.approx(0.8 / 2.8, abs=0.04)


@pytest.mark.parametrize("law", ["gamma", "lognormal"])
def test_frailty_has_mean_1_and_its_variance(law: str) -> None:
    world = world_with(frailty_law=law, frailty_variance=0.5)
    drawn = frailties(200_000, world, np.random.default_rng(6))
    assert drawn.mean() == pytest.approx(1.0, abs=0.01)
    assert drawn.var() == pytest.approx(0.5, abs=0.03)


def test_only_the_named_components_are_frail() -> None:
    world, fleet = fleet_with(3_000, frailty_variance=1.5, frail_components=("heater matrix",))
    for name, frail in (("heater matrix", True), ("thermostat", False)):
        life = gathered(fleet.life[:, world.places.of(name)], TRUE_LIVES[name])
        assert (stats.kstest(life, "expon").pvalue < 1e-4) == frail
        unlike = stats.kendalltau(life, fleet.frailty).pvalue < 1e-4
        assert unlike == frail


def test_renewed_parts_wear_out_on_a_frail_van_too() -> None:
    world = world_with()
    place = np.full(4_000, world.places.of("heater matrix"))
    lives = renewed_lives(
        place, place * 0, world=world, rng=np.random.default_rng(7), frailty=place * 0 + 3.0
    )
    life = TRUE_LIVES["heater matrix"]
    frail = stats.weibull_min(life.shape, scale=life.scale_value / 3 ** (1 / life.shape))
    assert stats.kstest(lives, frail.cdf).pvalue > 1e-4


def test_an_unknown_frailty_law_is_named() -> None:
    with pytest.raises(ValueError, match="no frailty law 'normal'; use gamma or lognormal"):
        frailties(
            1, world_with(frailty_law="normal", frailty_variance=1.0), np.random.default_rng()
        )


def days_late(world: World, book: Book) -> np.ndarray:
    """Days from each failure to the visit that found it."""
    seen = book.fitments.filter(pl.col("how") == "failure")
    rate = book.fleet.miles_per_year[seen["vehicle"].to_numpy()]
    wear = world.places.wear_per_year(seen["place"].to_numpy(), rate)
    years = seen["life"].to_numpy() / wear
    return np.asarray((seen["ended"] - seen["fitted"]).to_numpy() - years * DAYS_PER_YEAR)


def test_quiet_failures_wait_for_the_next_service() -> None:
    world, book = book_with(quiet_failures=1.0, arrives_with_failure=0.0)
    assert book.visits["service"].all()
    late = days_late(world, book)
    assert late.min() >= 0
    assert 0.4 < late.mean() / DAYS_PER_YEAR < 0.6
    assert late.max() / DAYS_PER_YEAR < 1.6


def test_half_of_the_failures_may_be_quiet() -> None:
    world, book = book_with(quiet_failures=0.5)
    late = days_late(world, book)
    assert 0.3 < np.mean(late > 15) < 0.5


def test_worn_parts_are_renewed_only_when_near_their_end() -> None:
    world, book = book_with(precaution=0.0, belt_renewed_when_due=0.0, precaution_of_worn=0.6)
    chosen = book.fitments.filter(pl.col("how") == "preventive renewal")
    rate = book.fleet.miles_per_year[chosen["vehicle"].to_numpy()]
    years = chosen["life"].to_numpy() / world.places.wear_per_year(chosen["place"].to_numpy(), rate)
    left = years - (chosen["ended"] - chosen["fitted"]).to_numpy() / DAYS_PER_YEAR
    assert chosen.height > 500
    assert left.min() > 0
    assert left.max() < 2.0
    assert np.mean(left < 1.0) > 0.6


def failures_by_bill(world: World, book: Book) -> tuple[int, int]:
    """Failures seen where the bill is big and where it is not."""
    failed = book.outcomes.filter(pl.col("cause") == "failure")["place"].to_numpy()
    dear = world.places.bill_net[failed] >= world.parameters.big_bill_net
    return int(dear.sum()), int((~dear).sum())


def test_dear_failures_that_are_given_up_never_come() -> None:
    usual, fewer = (
        failures_by_bill(*book_with(given_up_at_big_bill=chance)) for chance in (0.0, 1.0)
    )
    assert fewer[0] < 0.35 * usual[0]
    assert fewer[0] / fewer[1] < 0.5 * usual[0] / usual[1]


def test_owners_leave_after_a_big_bill_and_not_after_a_small_one() -> None:
    world, book = book_with(lost_after_visit=0.0, lost_after_big_bill=1.0)
    failed = book.outcomes.filter(pl.col("cause") == "failure").with_columns(
        dear=pl.col("place").replace_strict(
            dict(enumerate((world.places.bill_net >= 450.0).tolist())), return_dtype=pl.Boolean
        )
    )
    bills = failed.group_by("vehicle", "day").agg(pl.col("dear").any())
    visits = book.visits.join(bills, on=["vehicle", "day"], how="left")
    assert visits.select((~pl.col("loyal")).eq(pl.col("dear").fill_null(False)).all()).item()
    assert visits.filter("dear").height > 200


def renewal_years(recall: Recall, **changes: Any) -> tuple[float, float]:
    """The mean year of renewal that the survey tells, and the share of years that end in 0 or 5."""
    world, book = book_with(recall=recall, n_respondents=800, **changes)
    answers = survey_answers(book, world=world, rng=np.random.default_rng(9))
    columns = [name for name in answers.columns if name.endswith(", when")]
    told = pl.concat([answers[name].drop_nulls().rename("when") for name in columns])
    year = told.str.extract(r"(\d{4})").cast(pl.Int64)
    years = year.to_numpy()
    return float(years.mean()), float(np.mean(years % 5 == 0))


def test_owners_may_remember_too_late_or_too_early() -> None:
    exact = Recall(sd_years=0.0, heaped=0.0)
    late, early = (
        renewal_years(replace(exact, bias_years=bias))[0] - renewal_years(exact)[0]
        for bias in (1.0, -2.0)
    )
    assert early == pytest.approx(-2.0, abs=0.01)
    assert 0.5 < late < 1.0


def test_years_may_heap_on_fives_and_tens() -> None:
    assert renewal_years(Recall(heaped=1.0))[1] > 0.7
    assert renewal_years(Recall(heaped=0.0))[1] < 0.3
