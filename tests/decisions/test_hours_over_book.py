"""What a workshop's other jobs say of the hours of this one."""

import numpy as np
import pytest

from wornby.decisions.hours_over_book import OtherJob, pooled_mean, workshop_hours
from wornby.decisions.job_hours import HoursPrior, hours_posterior

BOOK = HoursPrior(hours=6.0, weight_jobs=3, spread=0.2, spread_weight_jobs=3)
GEARBOX, DASH, FRONT = (frozenset({n}) for n in ("gearbox out", "dash out", "subframe down"))


def job(over_book: float, n: int, access: frozenset[str], *, seed: int = 1) -> OtherJob:
    rng = np.random.default_rng(seed)
    return OtherJob(np.log(over_book) + 0.15 * rng.standard_normal(n), np.ones(n), access)


def sd(prior: HoursPrior) -> float:
    """How well the mean of the log hours is known before the job's own past."""
    return prior.spread / float(np.sqrt(prior.weight_jobs))


def test_eight_schools_are_pooled_as_in_the_textbook() -> None:
    # coaching in eight schools (Gelman et al., Bayesian Data Analysis, 5.5): data, and that the
    # common mean comes out near 8 and the spread between schools near 6.5, both from memory
    effects = np.array([28.0, 8, -3, 7, -1, 1, 18, 12])
    errors = np.array([15.0, 10, 16, 11, 9, 11, 10, 18])
    apart = np.linspace(0.05, 60, 600)
    flat = np.full(600, 1 / 600)
    known = pooled_mean(
        effects, errors, alike=np.eye(9), common_sd=1e3, apart=apart, prior=flat
    )  # fmt: skip
    assert known.centre == pytest.approx(8.0, abs=0.3)
    assert known.apart == pytest.approx(6.5, abs=0.3)


def test_the_pooled_mean_is_that_of_weighted_draws() -> None:
    """An independent way: draw spreads and means from the prior, weigh by the likelihood."""
    rng, n = np.random.default_rng(5), 400_000
    means, errors = np.array([0.3, 0.1]), np.array([0.05, 0.08])
    alike = np.array([[1.0, 0.5, 0.0], [0.5, 1.0, 0.0], [0.0, 0.0, 1.0]])
    apart, prior = np.array([0.05, 0.2, 0.4]), np.array([0.5, 0.3, 0.2])
    spread = rng.choice(apart, p=prior, size=n)[:, None]
    own = rng.standard_normal((n, 3)) @ np.linalg.cholesky(alike).T
    theta = 0.15 * rng.standard_normal((n, 1)) + spread * own
    log_weight = (-0.5 * ((theta[:, 1:] - means) / errors) ** 2).sum(axis=1)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    centre = weight @ theta[:, 0]
    known = pooled_mean(means, errors, alike=alike, common_sd=0.15, apart=apart, prior=prior)
    assert known.centre == pytest.approx(centre, abs=0.01)
    assert known.variance == pytest.approx(weight @ (theta[:, 0] - centre) ** 2, rel=0.05)
    assert known.apart == pytest.approx(weight @ spread[:, 0], rel=0.05)


def test_without_other_jobs_the_book_stands() -> None:
    none_done = OtherJob(np.array([]), np.array([]), DASH)
    assert workshop_hours(BOOK, GEARBOX, []) == BOOK
    assert workshop_hours(BOOK, GEARBOX, [none_done]) == BOOK


def test_one_other_job_done_once_hardly_moves_the_book() -> None:
    learnt = workshop_hours(BOOK, GEARBOX, [OtherJob(np.log([1.3]), np.ones(1), DASH)])
    assert 6.0 < learnt.hours < 6.4
    assert sd(learnt) < sd(BOOK) * 1.05


def test_a_workshop_slower_than_the_book_is_taken_to_be_so_here_too() -> None:
    others = [job(1.3, 30, access, seed=n) for n, access in enumerate((DASH, FRONT, DASH, FRONT))]
    learnt = workshop_hours(BOOK, GEARBOX, others)
    assert 6.0 * 1.1 < learnt.hours < 6.0 * 1.3
    assert sd(learnt) < sd(BOOK)


def test_a_past_job_of_half_weight_is_half_a_job() -> None:
    """Each job twice at half its weight says as much of the mean as once at full weight."""
    logs = np.log([1.3, 1.2, 1.4])
    once = OtherJob(logs, np.ones(3), DASH)
    halves = OtherJob(np.repeat(logs, 2), np.full(6, 0.5), DASH)
    full, half = (workshop_hours(BOOK, GEARBOX, [other]) for other in (once, halves))
    assert half.hours == pytest.approx(full.hours, rel=0.01)
    none = OtherJob(logs, np.zeros(3), DASH)
    assert workshop_hours(BOOK, GEARBOX, [none]) == BOOK


def test_jobs_on_other_versions_move_the_book_less() -> None:
    logs = np.log([1.3, 1.25, 1.35, 1.3])
    full, less = (
        workshop_hours(BOOK, GEARBOX, [OtherJob(logs, np.full(4, weight), DASH)])
        for weight in (1.0, 0.3)
    )
    assert 6.0 < less.hours < full.hours


def test_weighted_squares_are_worth_the_variance_as_often_as_told() -> None:
    """A hundred other jobs of three past ones at weights 1, 1 and 0.3 give their true scatter."""
    rng, weights = np.random.default_rng(6), np.array([1.0, 1.0, 0.3])
    others = [OtherJob(0.1 * rng.standard_normal(3), weights, DASH) for _ in range(100)]
    assert workshop_hours(BOOK, GEARBOX, others).spread == pytest.approx(0.1, rel=0.1)


def test_jobs_behind_the_same_access_say_more() -> None:
    slow_dash = [job(1.4, 40, DASH), job(1.0, 40, FRONT), job(1.0, 40, FRONT, seed=2)]
    dash, gearbox = (workshop_hours(BOOK, access, slow_dash).hours for access in (DASH, GEARBOX))
    assert dash > gearbox + 0.2


def test_three_past_jobs_beside_a_known_workshop_are_narrower_than_beside_the_book() -> None:
    """Few own jobs give a wide answer, not none; what others tell makes it less wide."""
    others = [job(1.1, 40, access, seed=n) for n, access in enumerate((DASH, FRONT, GEARBOX, DASH))]
    prior = workshop_hours(BOOK, GEARBOX, others)
    rng = np.random.default_rng(3)
    wide, less = (
        hours_posterior([6.5, 7.5, 6.0], [1, 1, 1], prior=known).draws(40_000, rng)[0].std()
        for known in (BOOK, prior)
    )
    assert 0.02 < less < wide


def test_workshops_with_a_pace_of_their_own_are_hit_as_often_as_promised() -> None:
    """Workshops drawn from the model: the 90 % range of the new job's mean holds it in 90 %."""
    half, hits, n_workshops = 0.2 / np.sqrt(6), 0, 300
    for seed in range(n_workshops):
        rng = np.random.default_rng(seed)
        common, apart = half * rng.standard_normal(), half * abs(rng.standard_normal())
        theta = common + apart * rng.standard_normal(5)
        others = [OtherJob(t + 0.2 * rng.standard_normal(12), np.ones(12), frozenset({str(n)}))
                  for n, t in enumerate(theta[1:])]  # fmt: skip
        learnt = workshop_hours(BOOK, frozenset({"new"}), others)
        hits += bool(abs(theta[0] - np.log(learnt.hours / 6.0)) < 1.645 * sd(learnt))
    assert hits / n_workshops == pytest.approx(0.90, abs=0.04)
