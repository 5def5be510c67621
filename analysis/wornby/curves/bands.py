"""Pointwise limits for a step curve, on the scale a band is named after."""

from typing import Literal, TypeAlias

import numpy as np
from scipy.stats import norm

from wornby.curves.log_ages import Array

Band: TypeAlias = Literal["log-log", "log", "plain"]


def check_confidence(confidence: float) -> None:
    """Refuse, with a ValueError, a confidence that is no share."""
    if not 0 < confidence < 1:
        raise ValueError(f"confidence {confidence}: wanted between 0 and 1")


def normal_root(confidence: float) -> float:
    """How many standard errors a two-sided interval reaches to each side."""
    return float(norm.ppf((1 + confidence) / 2))


def survival_limits(
    survival: Array, relative: Array, *, confidence: float, band: Band
) -> tuple[Array, Array]:
    """Limits of survival from its standard error divided by it (Kalbfleisch & Prentice 2002, 1.4).

    NaN where survival is nought, for nothing is left to judge by. ValueError: no such band.
    """
    root = normal_root(confidence)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        if band == "log-log":
            swing = np.exp(root * relative / np.abs(np.log(survival)))
            return survival**swing, survival ** (1 / swing)
        if band == "log":
            swing = np.exp(root * relative)
            return survival / swing, np.minimum(survival * swing, 1.0)
        if band == "plain":
            reach = root * relative * survival
            return np.maximum(survival - reach, 0.0), np.minimum(survival + reach, 1.0)
    raise ValueError(f"band {band!r}: wanted log-log, log or plain")


def hazard_limits(hazard: Array, std_err: Array, *, confidence: float) -> tuple[Array, Array]:
    """Limits of a cumulative hazard or mean cumulative function, on the logarithmic scale."""
    with np.errstate(over="ignore"):
        swing = np.exp(normal_root(confidence) * std_err / hazard)
        return hazard / swing, hazard * swing
