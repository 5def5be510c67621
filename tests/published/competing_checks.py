"""Competing endings, by check id."""

from collections.abc import Callable
from typing import Any

import numpy as np
import polars as pl

from wornby.curves.competing import Incidence, cumulative_incidence
from wornby.curves.nonparametric import kaplan_meier

from .curve_data import DATA, watched


def incidence(name: str, column: str) -> Incidence:
    data = DATA[name]
    ending = [str(kind) if kind else None for kind in data[column]]
    frame = pl.DataFrame({"exit": data["time"], "ending": ending})
    return cumulative_incidence(
        frame.with_columns(entry=pl.lit(0.0), count=pl.lit(1.0)), confidence=0.95
    )


def alone(name: str, column: str, kind: int, at: Any) -> Any:
    """One minus Kaplan-Meier of one ending, the other taken as withdrawn."""
    data = DATA[name]
    counts = watched(data["time"], np.array(data[column]) == kind)
    return 1 - kaplan_meier(counts, confidence=0.95).survival(at)


def shocks() -> Incidence:
    return incidence("shock_absorber", "mode")


def small(at: Any) -> list[Any]:
    found = incidence("small_competing", "cause")
    return [found.share("1", at), found.share("2", at), alone("small_competing", "cause", 1, at)]


COMPETING: dict[str, Callable[[Any], Any]] = {
    "C01.cif": lambda at: [shocks().share(mode, at) for mode in ("1", "2")],
    "C01.se": lambda at: [shocks().std_err(mode, at) for mode in ("1", "2")],
    "C01.naive": lambda at: [alone("shock_absorber", "mode", mode, at) for mode in (1, 2)],
    "C02": small,
}
