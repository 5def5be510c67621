"""In which months members answered, told so coarsely that no early or late answer stands alone."""

from datetime import date

import polars as pl

from wornby.survey.answers import Survey
from wornby.survey.thresholds import Thresholds

MONTH, YEAR = "%B %Y", "%Y"
COARSER = {MONTH: "1mo", YEAR: "1y"}
FIRST_DAY = date(1970, 1, 1)


def months_answered(survey: Survey, thresholds: Thresholds) -> str:
    """When members answered: "in December 2024", "from October to December 2024"; or nothing.

    The first month and the last are named where `minimum_cell` answers or more lie in each; else
    the years alone, where these hold as many; else nothing.
    """
    told = survey.dates.drop_nulls(["answered_low", "answered_high"])
    for written, length in COARSER.items():
        begun, ended = (
            told.select(_day(column).dt.truncate(length)).to_series()
            for column in ("answered_low", "answered_high")
        )
        first, last = begun.min(), ended.max()
        if not isinstance(first, date) or not isinstance(last, date):
            return ""
        fewest = min((begun == first).sum(), (ended == last).sum())
        if fewest >= thresholds.minimum_cell:
            return _from_to(first, last, written)
    return ""


def _day(column: str) -> pl.Expr:
    return pl.lit(FIRST_DAY) + pl.duration(days=pl.col(column).floor().cast(pl.Int64))


def _from_to(first: date, last: date, written: str) -> str:
    if first == last:
        return f"in {last.strftime(written)}"
    same_year = written == MONTH and first.year == last.year
    return f"from {first.strftime('%B' if same_year else written)} to {last.strftime(written)}"
