"""The data sets of curve_checks.json as counts."""

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from wornby.curves.parametric import WeibullCurve, weibull
from wornby.histories.counts import Counts

FILE = json.loads((Path(__file__).parent / "curve_checks.json").read_text(encoding="utf-8"))
CHECKS: dict[str, dict[str, Any]] = {check["id"]: check for check in FILE["checks"]}
DATA: dict[str, dict[str, Any]] = FILE["datasets"]


def counts_of(
    lower: ArrayLike, upper: ArrayLike, entry: ArrayLike = 0.0, count: ArrayLike = 1.0
) -> Counts:
    """Counts from columns; "Inf" is infinite."""
    columns = (np.array(column, dtype=np.float64) for column in (entry, lower, upper, count))
    filled = dict(
        zip(("entry", "lower", "upper", "count"), np.broadcast_arrays(*columns), strict=True)
    )
    return Counts(pl.DataFrame(filled), unit="as given", what="check", rule="as published")


def watched(time: ArrayLike, event: ArrayLike, entry: ArrayLike = 0.0) -> Counts:
    """Exact failures and lives in service."""
    end = np.array(time, dtype=np.float64)
    return counts_of(end, np.where(np.array(event) > 0, end, np.inf), entry)


@cache
def counts(name: str) -> Counts:
    """One data set as counts."""
    data = DATA[name]
    if name == "freireich_6mp":
        return watched(data["t_6mp"], data["event_6mp"])
    if "upper" in data:
        entry, count = data.get("entry", 0.0), data.get("count", 1.0)
        return counts_of(data["lower"], [float(u) for u in data["upper"]], entry, count)
    time = data["time"] if "time" in data else data["exit"]
    return watched(time, data["event"], data.get("entry", 0.0))


@cache
def fit(name: str) -> WeibullCurve:
    """The Weibull curve of one data set."""
    return weibull(counts(name))
