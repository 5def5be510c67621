import numpy as np
import pytest
from scipy import stats

from wornby.decisions.job_hours import HoursPrior, hours_posterior, lognormal_mean
from wornby.errors import EstimateError


def test_without_past_jobs_the_book_stands() -> None:
    posterior = hours_posterior([], [], prior=HoursPrior(6, 4, 0.3, 4))
    assert np.exp(posterior.centre) == pytest.approx(6)
    assert (posterior.weight, posterior.half_weight) == (4, 2)
    assert posterior.rate == pytest.approx(4 * 0.3**2 / 2)


def test_the_posterior_is_prior_times_likelihood_on_a_grid() -> None:
    hours, rng = [5.0, 8.0, 11.0], np.random.default_rng(1)
    mean, spread = hours_posterior(hours, [1, 1, 1], prior=HoursPrior(6, 3, 0.25, 3)).draws(
        200_000, rng
    )
    m, v = np.meshgrid(np.linspace(0.5, 3.5, 601), np.geomspace(0.003, 3, 600))
    log_density = (
        stats.invgamma.logpdf(v, 1.5, scale=1.5 * 0.25**2)
        + stats.norm.logpdf(m, np.log(6), np.sqrt(v / 3))
        + np.sum(stats.norm.logpdf(np.log(hours)[:, None, None], m, np.sqrt(v)), axis=0)
        + np.log(v)
    )
    density = np.asarray(np.exp(log_density - np.max(log_density)))
    weight = density / density.sum()
    assert mean.mean() == pytest.approx((weight * m).sum(), abs=0.003)
    assert spread.mean() == pytest.approx((weight * np.sqrt(v)).sum(), rel=0.01)


def test_a_job_of_half_weight_counts_twice_for_one() -> None:
    one = hours_posterior([7, 9], [1, 1], prior=HoursPrior(6, 2, 0.3, 2))
    halves = hours_posterior([7, 7, 9, 9], [0.5] * 4, prior=HoursPrior(6, 2, 0.3, 2))
    assert halves.centre == pytest.approx(one.centre)
    assert halves.rate == pytest.approx(one.rate)


def test_a_mean_needs_two_jobs_and_positive_hours() -> None:
    alone = lognormal_mean([3.0], confidence=0.9, unit="labour_hours")
    assert (alone.value, alone.note) == (None, "1 seen, wanted 2 or more")
    with pytest.raises(EstimateError, match="wanted all above 0"):
        lognormal_mean([3.0, 0.0], confidence=0.9, unit="labour_hours")
