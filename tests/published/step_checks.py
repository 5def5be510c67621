"""Kaplan-Meier, Nelson-Aalen, log-rank and Turnbull, by check id."""

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from wornby.curves.bands import Band
from wornby.curves.groups import log_rank
from wornby.curves.intervals import turnbull
from wornby.curves.nonparametric import kaplan_meier, nelson_aalen

from .curve_data import DATA, counts, watched

SIX_MP, SHOCKS, WOMEN = "freireich_6mp", "shock_absorber", "channing_women"
FIRST = "from the first watched"


def survival(name: str, at: Any) -> Any:
    return kaplan_meier(counts(name), confidence=0.95).survival(at)


def std_err(name: str, at: Any) -> Any:
    table = kaplan_meier(counts(name), confidence=0.95).table
    return table.filter(table["age"].is_in(at))["std_err"].to_list()


def hazard(name: str, at: Any) -> Any:
    return nelson_aalen(counts(name), confidence=0.95).cumulative_hazard(at)


def limits(name: str, band: Band, at: Any) -> Any:
    table = kaplan_meier(counts(name), confidence=0.95, band=band).table
    rows = table.filter(table["age"].is_in(at))
    return [rows["lower"].to_list(), rows["upper"].to_list()]


def median() -> list[float | None]:
    found = kaplan_meier(counts(SIX_MP), confidence=0.95).median
    assert found.upper == np.inf
    return [found.value, found.lower]


def restricted_mean() -> list[float]:
    mean = kaplan_meier(counts(SIX_MP), confidence=0.95).restricted_mean(35)
    assert mean.value is not None
    assert mean.upper is not None
    return [mean.value, (mean.upper - mean.value) / 1.959963985]


def remission() -> Any:
    placebo = watched(DATA[SIX_MP]["t_placebo"], np.ones(21))
    return log_rank({"placebo": placebo, "6-MP": counts(SIX_MP)})


def observed_and_expected() -> list[Any]:
    table = remission().table
    return [*table["failures"], *table["expected"], remission().covariance[0, 0]]


def given_816(at: Any) -> list[Any]:
    curve = kaplan_meier(counts(WOMEN), confidence=0.95, begins_at=816.0)
    steps = curve.table["age"].to_numpy()
    last = np.searchsorted(steps, at, side="right") - 1
    return [curve.survival(at), curve.table["std_err"].to_numpy()[last]]


def as_if_from_new(at: Any) -> Any:
    women = DATA[WOMEN]
    return kaplan_meier(watched(women["exit"], women["event"]), confidence=0.95).survival(at)


def collapse() -> list[Any]:
    """Taken whole the curve ends at its first failure; the default begins after it and says so."""
    small = counts("small_collapse")
    whole = kaplan_meier(small, confidence=0.95, early_rule=FIRST)
    later = kaplan_meier(small, confidence=0.95)
    assert later.begins_at == 4
    assert later.note
    return [whole.survival([4, 9, 11, 12]), later.survival([9, 11, 12])]


def eight_vehicles(at: Any) -> list[Any]:
    curve = kaplan_meier(counts("small_delayed_entry"), confidence=0.95)
    return [curve.survival(at), curve.at_risk(at)]


def masses(name: str, at: Any) -> list[float]:
    table = turnbull(counts(name)).table
    held = {(row[0], row[1]): row[2] for row in table.iter_rows()}
    wanted = [(float(left), float(right)) for left, right in at]
    assert set(wanted) == set(held)
    return [held[cell] for cell in wanted]


def log_likelihood(name: str, _at: Any) -> float:
    return turnbull(counts(name)).log_likelihood


def life_table() -> list[Any]:
    """Shares failed, and Greenwood's formula on the table's own failures and numbers at risk."""
    failed = 1 - turnbull(counts("heat_exchanger")).survival([1, 2, 3])
    d, n = np.array([4, 5, 2]), np.array([300, 197, 97])
    std_errs = (1 - failed) * np.sqrt(np.cumsum(d / (n * (n - d))))
    return [failed, std_errs]


def failed_by(name: str, at: Any) -> Any:
    return 1 - turnbull(counts(name)).survival(at)


STEPS: dict[str, Callable[[Any], Any]] = {
    "K01.surv": partial(survival, SIX_MP),
    "K01.se": partial(std_err, SIX_MP),
    "K01.na": partial(hazard, SIX_MP),
    "K01.ci_plain": partial(limits, SIX_MP, "plain"),
    "K01.ci_log": partial(limits, SIX_MP, "log"),
    "K01.ci_log-log": partial(limits, SIX_MP, "log-log"),
    "K01.med": lambda _: median(),
    "K01.rmst": lambda _: restricted_mean(),
    "K02.logrank": lambda _: remission().statistic,
    "K02.oe": lambda _: observed_and_expected(),
    "K03.surv": partial(survival, SHOCKS),
    "K03.se": partial(std_err, SHOCKS),
    "K03.na_cumhaz": partial(hazard, SHOCKS),
    "K03.ci_plain": partial(limits, SHOCKS, "plain"),
    "K03.ci_log": partial(limits, SHOCKS, "log"),
    "K03.ci_log-log": partial(limits, SHOCKS, "log-log"),
    "K06.women": given_816,
    "K06.women.naive": as_if_from_new,
    "K08": eight_vehicles,
    "K09": lambda _: collapse(),
    "T01": partial(masses, "cosmesis_RT"),
    "T01.ll": partial(log_likelihood, "cosmesis_RT"),
    "T03": partial(masses, "heat_exchanger"),
    "T03.ll": partial(log_likelihood, "heat_exchanger"),
    "T03.F": lambda _: life_table(),
    "T05": partial(failed_by, "part_cracking"),
}
