"""Weibull and lognormal fits and their intervals, by check id."""

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from wornby.curves.given_shape import weibayes
from wornby.curves.location_scale import lognormal
from wornby.curves.parametric import WeibullCurve, weibull
from wornby.curves.profile import b_life, chance_within, scale_interval, shape_interval
from wornby.curves.uncertainty import Estimate

from .curve_data import DATA, counts, fit, watched

SETS = {
    "W01": "nist_censored",
    "W02": "shock_absorber",
    "W03": "heat_exchanger",
    "W05": "part_cracking",
    "W09": "ball_bearings",
    "W10": "channing_women",
}
ALL_SETS = [name for name in SETS if name != "W10"]


def both(estimate: Estimate) -> list[float | None]:
    return [estimate.lower, estimate.upper]


def std_errs(curve: WeibullCurve) -> list[float]:
    """Standard errors of shape and scale, by the delta method."""
    log_scale, log_shape = np.sqrt(np.diag(curve.covariance))
    return [float(curve.shape * log_shape), float(curve.scale * log_scale)]


PARTS: dict[str, Callable[[WeibullCurve], Any]] = {
    "shape": lambda c: c.shape,
    "scale": lambda c: c.scale,
    "loglik": lambda c: c.log_likelihood,
    "B10": lambda c: c.b_life(0.1),
    "lr_ci_shape": lambda c: both(shape_interval(c, confidence=0.95)),
    "lr_ci_scale": lambda c: both(scale_interval(c, confidence=0.95)),
    "lr_ci_B10": lambda c: both(b_life(c, 0.1, confidence=0.95)),
}
WALD_PARTS: dict[str, Callable[[WeibullCurve], Any]] = {
    "se_shape": lambda c: std_errs(c)[0],
    "se_scale": lambda c: std_errs(c)[1],
    "wald_log_ci_shape": lambda c: both(shape_interval(c, confidence=0.95, method="wald")),
    "wald_log_ci_scale": lambda c: both(scale_interval(c, confidence=0.95, method="wald")),
    "wald_log_ci_B10": lambda c: both(b_life(c, 0.1, confidence=0.95, method="wald")),
}


def of_fit(part: Callable[[WeibullCurve], Any], name: str, _at: Any) -> Any:
    return part(fit(name))


def by_part(checks: list[str], parts: dict[str, Callable[[WeibullCurve], Any]]) -> Any:
    return {
        f"{check}.{part}": partial(of_fit, asked, SETS[check])
        for check in checks
        for part, asked in parts.items()
    }


def mode(number: int) -> list[float]:
    """One failure mode of the shock absorbers, the other taken as withdrawn."""
    data = DATA["shock_absorber"]
    curve = weibull(watched(data["time"], [m == number for m in data["mode"]]))
    return [curve.shape, curve.scale, curve.log_likelihood]


def lognormal_fit(name: str) -> list[float]:
    curve = lognormal(counts(name))
    aic = 4 - 2 * curve.log_likelihood
    return [curve.location, curve.spread, curve.log_likelihood, aic]


def on_log_age(name: str) -> float:
    """The log-likelihood of densities for each unit of log age."""
    _, lower, upper, count = counts(name).columns()
    failed = lower == upper
    return fit(name).log_likelihood + float((count * np.log(lower))[failed].sum())


def conditional() -> Any:
    return chance_within(fit("nist_censored"), age=400.0, horizon=100.0, confidence=0.9).value


FAN = "generator_fan"
WEIBULL: dict[str, Callable[[Any], Any]] = {
    **by_part(list(SETS), PARTS),
    **by_part(ALL_SETS, WALD_PARTS),
    "W01.aic": lambda _: 4 - 2 * fit("nist_censored").log_likelihood,
    "W01.mean": lambda _: fit("nist_censored").mean,
    "W01.sd": lambda _: fit("nist_censored").std_dev,
    "W01.ln": lambda _: lognormal_fit("nist_censored"),
    "W01.cond": lambda _: conditional(),
    "W01.mrl": lambda _: fit("nist_censored").mean_remaining(400),
    "W02.mode1": lambda _: mode(1),
    "W02.mode2": lambda _: mode(2),
    "W06.shape": lambda _: fit(FAN).shape,
    "W06.scale_in_hours": lambda _: fit(FAN).scale,
    "W06.se_shape": lambda _: std_errs(fit(FAN))[0],
    "W06.se_scale_in_hours": lambda _: std_errs(fit(FAN))[1],
    "W06.loglik_on_log(kilohours)_sca": lambda _: on_log_age(FAN),
    "W06.loglik_on_hours_scale": lambda _: fit(FAN).log_likelihood,
    "W06.exponential_mean_(total_time": lambda _: (
        weibayes(counts(FAN), shape=1.0).scale(confidence=0.95).value
    ),
    "W06.profile_CI_shape": lambda _: both(shape_interval(fit(FAN), confidence=0.95)),
    "W06.profile_CI_B10_hours": lambda _: both(b_life(fit(FAN), 0.1, confidence=0.95)),
    "W06.profile_CI_scale_hours": lambda _: both(scale_interval(fit(FAN), confidence=0.95)),
    "W10.se_log": lambda _: np.sqrt(np.diag(fit("channing_women").covariance))[::-1],
    "W12.1": lambda _: [
        fit("mixed_trunc_1").shape,
        fit("mixed_trunc_1").scale,
        fit("mixed_trunc_1").log_likelihood,
    ],
    "W12.1.se": lambda _: np.sqrt(np.diag(fit("mixed_trunc_1").covariance))[::-1],
}
