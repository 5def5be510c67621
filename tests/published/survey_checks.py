"""Raking, by check id."""

from collections.abc import Callable
from typing import Any

from wornby.survey.weighting import rake

from .curve_data import DATA


def raked(_at: Any) -> Any:
    data = DATA["ipf_4x4"]
    return rake(data["seed"], [data["row_targets"], data["col_targets"]]).table


SURVEY: dict[str, Callable[[Any], Any]] = {"P04.a": raked}
