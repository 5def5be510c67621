"""Given shape, conjugate beliefs and proportions, by check id."""

import math
from collections.abc import Callable
from typing import Any

from wornby.curves.given_shape import RateBelief, WeibayesCurve, weibayes
from wornby.curves.proportions import Share, rule_of_three

from .curve_data import DATA, counts


def bounds_of(name: str, shape: float) -> list[float | None]:
    curve = weibayes(counts(name), shape=shape)
    scale, life = curve.scale(confidence=0.95), curve.b_life(0.1, confidence=0.95)
    lowest = curve.lowest_b_life(UP_TO_SCALE, confidence=0.95)
    return [curve.exposure, scale.value, life.value, lowest, scale.lower, scale.upper]


UP_TO_SCALE = -math.expm1(-1)  # the scale is the age by which 63.2 % have failed


def zero_failures() -> list[float]:
    curve = weibayes(counts("zero_failures"), shape=2.0)
    scales = [curve.lowest_b_life(UP_TO_SCALE, confidence=c) for c in (0.95, 0.90, 0.50)]
    return [curve.exposure, *scales, curve.lowest_b_life(0.1, confidence=0.95)]


def factors() -> list[list[float]]:
    """With unit exposure and shape 1, the lower limit of the scale is the factor itself."""
    curves = [WeibayesCurve(1.0, r, 1.0, "") for r in range(6)]
    return [[c.lowest_b_life(UP_TO_SCALE, confidence=p) for p in (0.95, 0.90)] for c in curves]


def fans() -> RateBelief:
    prior, fan = DATA["bayes_prior_fan"], weibayes(counts("generator_fan"), shape=1.0)
    return RateBelief(prior["shape"], prior["rate"]).after(fan.failures, fan.exposure)


def fan_lives() -> list[list[float]]:
    return [
        [fans().b_life_quantile(share, shape=1.0, probability=p) for p in (0.025, 0.5, 0.975)]
        for share in (UP_TO_SCALE, 0.1)
    ]


def three_in_ten() -> list[float]:
    belief = RateBelief(2, 4).after(3, 10)
    rates = [belief.quantile(p) for p in (0.025, 0.5, 0.975)]
    return [belief.mean, *rates, *(belief.chance_of_more_than(n, exposure=1) for n in range(4))]


def shares(seen: int, total: int) -> list[float | None]:
    share = Share(seen, total)
    wilson, exact = share.wilson(confidence=0.95), share.exact(confidence=0.95)
    return [wilson.lower, wilson.upper, exact.lower, exact.upper]


def none_seen() -> list[float]:
    totals = (14, 30, 50, 100)
    highest = [Share(0, n).highest(confidence=0.95) for n in totals]
    return [*highest, *(rule_of_three(n) for n in totals)]


def wald() -> list[float | None]:
    share = Share(81, 263).wald(confidence=0.95)
    return [share.lower, share.upper]


FEW_FAILURES: dict[str, Callable[[Any], Any]] = {
    "WB2": lambda _: factors(),
    "WB4.2": lambda _: zero_failures(),
    "WB0.fan.1": lambda _: bounds_of("generator_fan", 1.0),
    "WB0.fan.1.5": lambda _: bounds_of("generator_fan", 1.5),
    "WB0.nist.2": lambda _: bounds_of("nist_censored", 2.0),
    "BY0.a": lambda _: fans().mean,
    "BY0.b": lambda _: fan_lives(),
    "BY5": lambda _: three_in_ten(),
    "P01.81.263": lambda _: shares(81, 263),
    "P01.0.20": lambda _: shares(0, 20),
    "P01.wald": lambda _: wald(),
    "P03": lambda _: none_seen(),
}
