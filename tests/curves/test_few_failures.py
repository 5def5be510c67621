"""The posterior from few failures, against conjugate forms, quadrature and its own draws."""

from collections.abc import Sequence

import numpy as np
import polars as pl
import pytest
from scipy.integrate import dblquad
from scipy.stats import gamma, norm

from wornby.curves.few_failures import weibull_posterior
from wornby.curves.given_shape import RateBelief, weibayes
from wornby.curves.shape_prior import CAR_COMPONENT, ShapePrior
from wornby.errors import EstimateError
from wornby.histories.counts import Counts

SHAPE_TWO = ShapePrior(median=2.0, factor=1.0001, scale_power=1.0, basis="given")


def counts_of(rows: Sequence[tuple[float, ...]]) -> Counts:
    table = pl.DataFrame(rows, schema=["entry", "lower", "upper", "count"], orient="row")
    return Counts(table.cast(pl.Float64), unit="years", what="mount", rule="as watched")


THREE_FAILURES = [(0, 6, 6, 1), (2, 9, 9, 1), (0, 4, 7, 1), (3, 12, np.inf, 8), (0, 5, np.inf, 9)]
NO_FAILURE = [(2.0, 9.0, np.inf, 12.0), (0.0, 5.0, np.inf, 3.0)]


def test_with_the_shape_pinned_it_is_the_conjugate_gamma() -> None:
    """Given the shape, scale^-shape is gamma with failures + scale_power (Gelman 2013, 2.6)."""
    rows = [row for row in THREE_FAILURES if row[1] == row[2] or np.isinf(row[2])]
    posterior = weibull_posterior(counts_of(rows), prior=SHAPE_TWO)
    exposure = sum(n * (exit_**2 - entry**2) for entry, exit_, _, n in rows)
    rates = gamma.ppf([0.95, 0.5, 0.05], 2 + 1, scale=1 / exposure)
    life = posterior.b_life(0.1, confidence=0.9)
    expected = (-np.log(0.9) / rates) ** 0.5
    assert [life.lower, life.value, life.upper] == pytest.approx(list(expected), rel=1e-3)


def test_without_failures_a_flat_prior_gives_the_chi_square_bound() -> None:
    """scale > (T / -log(1 - confidence))^(1/shape), as weibayes gives it."""
    posterior = weibull_posterior(counts_of(NO_FAILURE), prior=SHAPE_TWO)
    life = posterior.b_life(0.1, confidence=0.95)
    bound = weibayes(counts_of(NO_FAILURE), shape=2.0).lowest_b_life(0.1, confidence=0.95)
    assert (life.value, life.upper) == (None, np.inf)
    assert life.lower == pytest.approx(bound, rel=1e-3)
    assert "one-sided" in life.note
    chance = posterior.chance_within(age=6.0, horizon=2.0, confidence=0.95)
    assert (chance.value, chance.lower) == (None, 0.0)
    exposure = 12 * (81 - 4) + 3 * 25
    assert chance.upper == pytest.approx(1 - 0.05 ** ((64 - 36) / exposure), rel=2e-3)


def test_without_failures_the_shape_stays_at_its_prior() -> None:
    shape = weibull_posterior(counts_of(NO_FAILURE), prior=CAR_COMPONENT).shape(confidence=0.95)
    median, factor = CAR_COMPONENT.median, CAR_COMPONENT.factor
    assert shape.value == pytest.approx(median, rel=1e-3)
    assert shape.lower == pytest.approx(median / factor, rel=5e-3)
    assert shape.upper == pytest.approx(median * factor, rel=5e-3)


def test_the_grid_agrees_with_quadrature_of_the_whole_surface() -> None:
    """Chance of failing from 8 to 10, averaged over both parameters by adaptive quadrature."""
    entry, lower, upper, count = counts_of(THREE_FAILURES).columns()
    until = np.where(np.isinf(upper), lower, upper)

    def density(log_shape: float, log_expected: float) -> float:
        shape = np.exp(log_shape)
        exposure = (count * (lower**shape - entry**shape)).sum()
        rate = np.exp(log_expected) / exposure
        alive, ended = rate * lower**shape, rate * until**shape
        chance = np.where(
            lower == upper,
            shape * rate * lower ** (shape - 1) * np.exp(-alive),
            np.where(np.isinf(upper), np.exp(-alive), np.exp(-alive) - np.exp(-ended)),
        )
        log_value = (count * (np.log(chance) + rate * entry**shape)).sum() + log_expected / 2
        spread = np.log(CAR_COMPONENT.factor) / 1.959964
        prior = norm.pdf(log_shape, np.log(CAR_COMPONENT.median), spread)
        return float(np.exp(log_value + 30) * prior)

    def weighted(log_expected: float, log_shape: float) -> float:
        shape = np.exp(log_shape)
        exposure = (count * (lower**shape - entry**shape)).sum()
        rate = np.exp(log_expected) / exposure
        return float(density(log_shape, log_expected) * -np.expm1(-rate * (10**shape - 8**shape)))

    box = (-1.8, 3.0, -4.0, 3.2)
    above, _ = dblquad(weighted, *box, epsrel=1e-6)
    below, _ = dblquad(lambda v, k: density(k, v), *box, epsrel=1e-6)
    posterior = weibull_posterior(counts_of(THREE_FAILURES), prior=CAR_COMPONENT)
    predicted = posterior.predicted_chance(age=8.0, horizon=2.0)
    assert predicted == pytest.approx(above / below, rel=1e-3)


@pytest.mark.parametrize("rows", [THREE_FAILURES, NO_FAILURE])
def test_draws_follow_the_posterior(rows: Sequence[tuple[float, ...]]) -> None:
    posterior = weibull_posterior(counts_of(rows), prior=CAR_COMPONENT)
    draws = posterior.draws(np.random.default_rng(2), 40_000)
    survival = draws.survival([8.0, 10.0])
    drawn = 1 - survival[:, 1] / survival[:, 0]
    predicted = posterior.predicted_chance(age=8.0, horizon=2.0)
    assert drawn.mean() == pytest.approx(predicted, abs=4 * drawn.std() / 200)


def test_no_mass_is_lost_at_the_edges() -> None:
    for rows in ([(0, 5, 5, 1)], THREE_FAILURES, NO_FAILURE, [(3, 3, 9, 40), (3, 4, np.inf, 9)]):
        posterior = weibull_posterior(counts_of(rows), prior=CAR_COMPONENT)
        assert posterior.edge_mass < 1e-6
        assert posterior.weight.sum() == pytest.approx(1)


def test_many_failures_bring_it_to_the_likelihood_alone() -> None:
    rng = np.random.default_rng(5)
    life = 10 * rng.weibull(3, 2000)
    counts = counts_of([(0.0, float(t), float(t), 1.0) for t in life])
    shape = weibull_posterior(counts, prior=CAR_COMPONENT).shape(confidence=0.95)
    assert shape.value == pytest.approx(3, rel=0.06)


def test_refuses_an_empty_record_and_a_prior_that_is_none() -> None:
    with pytest.raises(EstimateError, match="no lives"):
        weibull_posterior(counts_of([]), prior=CAR_COMPONENT)
    with pytest.raises(EstimateError, match="no life was seen alive for any time"):
        weibull_posterior(counts_of([(0, 0, 5, 2)]), prior=CAR_COMPONENT)
    with pytest.raises(ValueError, match="wanted a median above 0"):
        ShapePrior(median=0.0, factor=2.0, scale_power=0.5, basis="none")
    with pytest.raises(ValueError, match="scale power"):
        ShapePrior(median=2.0, factor=2.0, scale_power=2.0, basis="none")


def test_weibayes_refuses_bounds_and_a_shape_of_nought() -> None:
    with pytest.raises(EstimateError, match="use weibull_posterior"):
        weibayes(counts_of(THREE_FAILURES), shape=2.0)
    with pytest.raises(ValueError, match="wanted above 0"):
        weibayes(counts_of(NO_FAILURE), shape=0.0)


def test_answers_past_the_data_are_marked() -> None:
    posterior = weibull_posterior(counts_of(THREE_FAILURES), prior=CAR_COMPONENT)
    assert posterior.b_life(0.9, confidence=0.9).note == (
        "beyond the last failure at 9 years: extrapolated"
    )
    far = posterior.chance_within(age=11.0, horizon=2.0, confidence=0.9)
    assert far.note == "beyond the longest watch at 12 years: extrapolated"
    assert posterior.chance_within(age=5.0, horizon=2.0, confidence=0.9).note == ""


def test_weibayes_marks_what_lies_past_the_last_failure() -> None:
    rows = [row for row in THREE_FAILURES if row[1] == row[2] or np.isinf(row[2])]
    curve = weibayes(counts_of(rows), shape=2.0)
    assert curve.b_life(0.05, confidence=0.9).note == ""
    late = curve.b_life(0.9, confidence=0.9)
    assert late.note == "beyond the last failure at 9 years: extrapolated"


def test_weibayes_limits_are_those_of_a_poisson_count() -> None:
    """Two failures lie between 0.355 and 6.296 expected: exact Poisson limits (by the sum)."""
    rows = [row for row in THREE_FAILURES if row[1] == row[2] or np.isinf(row[2])]
    curve = weibayes(counts_of(rows), shape=2.0)
    life = curve.b_life(-np.expm1(-1), confidence=0.9)
    assert life.upper == pytest.approx((curve.exposure / 0.355) ** 0.5, rel=1e-3)
    assert life.lower == pytest.approx((curve.exposure / 6.296) ** 0.5, rel=1e-3)


def test_weibayes_refuses_ages_past_reckoning() -> None:
    with pytest.raises(EstimateError, match="wanted a smaller shape or a larger unit"):
        weibayes(counts_of([(0, 1e5, 1e5, 1)]), shape=80.0)
    with pytest.raises(EstimateError, match="wanted a smaller shape or a larger unit"):
        weibayes(counts_of([(0, 1e-5, 1e-5, 1)]), shape=80.0)


def test_a_belief_worth_nothing_gives_no_rate() -> None:
    with pytest.raises(EstimateError, match="no rate to be had"):
        RateBelief(0, 4).quantile(0.5)
    assert RateBelief(0, 0).after(3, 10).mean == pytest.approx(0.3)
    with pytest.raises(ValueError, match="0 or more"):
        RateBelief(-1, 4)
