"""The likelihood's derivatives are those of its value, for every family and kind of life."""

import numpy as np
import polars as pl
import pytest

from wornby.curves.likelihood import LOGLOGISTIC, LOGNORMAL, WEIBULL, Family, log_likelihood
from wornby.curves.log_ages import evidence
from wornby.curves.rival_families import generalised_gamma, weibull_with_survivors
from wornby.histories.counts import Counts

FAMILIES = [
    WEIBULL,
    LOGNORMAL,
    LOGLOGISTIC,
    weibull_with_survivors(0.2),
    *(generalised_gamma(q) for q in (-1.5, -0.3, 0.4, 1.0, 2.5)),
]


def every_kind() -> Counts:
    """Exact, in service, left and interval censored, entered late and from new."""
    table = pl.DataFrame(
        {
            "entry": [0.0, 2.0, 0.0, 3.0, 0.0, 1.0, 4.0, 5.0],
            "lower": [4.0, 6.0, 9.0, 12.0, 0.0, 1.0, 7.0, 5.0],
            "upper": [4.0, 6.0, np.inf, np.inf, 3.0, 5.0, 8.0, 11.0],
            "count": [1.0, 2.0, 3.0, 1.0, 1.0, 2.0, 1.0, 1.0],
        }
    )
    return Counts(table, unit="years", what="mount", rule="as watched")


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.name)
def test_gradient_and_hessian_are_those_of_the_value(family: Family) -> None:
    """Against central differences, at several places away from the maximum."""
    known, h = evidence(every_kind()), 1e-5
    for place in ([0.0, 1.5], [1.0, 2.5], [-0.7, 0.8]):
        theta = np.array([place])
        _, gradient, hessian = log_likelihood(family, known, theta)
        for i in range(2):
            nudge = np.zeros((1, 2))
            nudge[0, i] = h
            up, up_slope, _ = log_likelihood(family, known, theta + nudge)
            down, down_slope, _ = log_likelihood(family, known, theta - nudge)
            assert gradient[0, i] == pytest.approx((up[0] - down[0]) / (2 * h), rel=1e-6, abs=1e-6)
            bend = (up_slope[0] - down_slope[0]) / (2 * h)
            assert hessian[0, i] == pytest.approx(bend, rel=1e-5, abs=1e-5)


def test_generalised_gamma_meets_its_special_cases() -> None:
    """Q = 1 is the Weibull and Q = 0 the lognormal (Prentice 1974)."""
    known, theta = evidence(every_kind()), np.array([[0.2, 1.7]])
    weibull = log_likelihood(WEIBULL, known, theta)[0]
    lognormal = log_likelihood(LOGNORMAL, known, theta)[0]
    assert log_likelihood(generalised_gamma(1.0), known, theta)[0] == pytest.approx(weibull)
    near = log_likelihood(generalised_gamma(0.0011), known, theta)[0]
    assert near == pytest.approx(lognormal, abs=0.02)


def test_a_slope_of_nought_has_no_likelihood() -> None:
    known = evidence(every_kind())
    for slope in (0.0, -1.0):
        assert log_likelihood(WEIBULL, known, np.array([[0.0, slope]]))[0][0] == -np.inf


@pytest.mark.parametrize("q", [-2.0, -0.5, -0.01, -0.0011, 0.0011, 0.01, 0.5, 1.0, 3.0])
def test_tails_of_the_generalised_gamma_have_the_slope_they_say(q: float) -> None:
    """Past underflow too, and near the lognormal: no step where one formula takes over."""
    family, z = generalised_gamma(q), np.array([-40.0, -8, -3, -1, 0, 0.5, 1, 3, 8])
    value, slope, _ = family.log_survival(z)
    up, down = (family.log_survival(z + h)[0] for h in (1e-4, -1e-4))
    assert slope == pytest.approx((up - down) / 2e-4, rel=1e-4, abs=1e-6)
    assert (np.diff(value) <= 0).all()


def test_the_generalised_gamma_nears_the_lognormal_in_step_with_q() -> None:
    known, theta = evidence(every_kind()), np.array([[0.2, 1.7]])
    lognormal = log_likelihood(LOGNORMAL, known, theta)[0][0]
    gaps = [
        log_likelihood(generalised_gamma(q), known, theta)[0][0] - lognormal
        for q in (0.01, 0.005, -0.005, -0.01)
    ]
    assert gaps[0] == pytest.approx(2 * gaps[1], rel=0.02)
    assert gaps[1] == pytest.approx(-gaps[2], rel=0.02)
    assert gaps[3] == pytest.approx(2 * gaps[2], rel=0.02)
