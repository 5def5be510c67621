"""Mean cumulative functions and their variances, by check id."""

from collections.abc import Callable
from functools import partial
from typing import Any

import polars as pl

from wornby.curves.recurrence import Variance, mean_cumulative_function

from .curve_data import DATA


def history(name: str) -> pl.DataFrame:
    data = DATA[name]
    frame = pl.DataFrame({"vehicle": data["id"], "age": data["time"], "failed": data["event"]})
    return frame.with_columns(pl.col("failed") == 1)


def mean(name: str, at: Any) -> Any:
    return mean_cumulative_function(history(name), confidence=0.95).mean(at)


def variance(name: str, kind: Variance, at: Any) -> Any:
    table = mean_cumulative_function(history(name), confidence=0.95, variance=kind).table
    assert table["age"].to_list() == at
    return table["std_err"].to_numpy() ** 2


def last_limits(name: str, at: Any) -> list[float]:
    """Normal limits by hand from the standard error; log limits as the table gives them."""
    table = mean_cumulative_function(history(name), confidence=0.95).table
    row = table.filter(pl.col("age") == at).row(0, named=True)
    reach = 1.959963985 * row["std_err"]
    return [row["mean"] - reach, row["mean"] + reach, row["lower"], row["upper"]]


def of_set(check: str, name: str) -> dict[str, Callable[[Any], Any]]:
    kinds: dict[str, Variance] = {"robust": "robust", "nelson": "nelson", "poisson": "poisson"}
    variances = {f"{check}.var_{k}": partial(variance, name, kind) for k, kind in kinds.items()}
    return {
        f"{check}.mcf": partial(mean, name),
        f"{check}.ci_last": partial(last_limits, name),
        **variances,
    }


RECURRENCE: dict[str, Callable[[Any], Any]] = {
    **of_set("R01", "valve_seat"),
    **of_set("R02", "three_systems"),
}
