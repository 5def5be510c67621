"""In which months members answered, told so coarsely that no early or late answer stands alone."""

from datetime import date

import polars as pl

from wornby.records.conventions import month_text
from wornby.survey.answers import Survey
from wornby.survey.thresholds import Thresholds

COARSER = {"month": "1mo", "year": "1y"}
FIRST_DAY = date(1970, 1, 1)


def months_answered(survey: Survey, thresholds: Thresholds, *, date_format: str) -> str:
    """When members answered: "in December 2024", "from October to December 2024"; or nothing.

    The first month and the last are named where `minimum_cell` answers or more lie in each; else
    the years alone, where these hold as many; else nothing.
    """
    told = survey.dates.drop_nulls(["answered_low", "answered_high"])
    for told_by, length in COARSER.items():
        begun, ended = (
            told.select(_day(column).dt.truncate(length)).to_series()
            for column in ("answered_low", "answered_high")
        )
        first, last = begun.min(), ended.max()
        if not isinstance(first, date) or not isinstance(last, date):
            return ""
        fewest = min((begun == first).sum(), (ended == last).sum())
        if fewest >= thresholds.minimum_cell:
            begin, end = (_written(day, told_by, date_format) for day in (first, last))
            if begin == end:
                return f"in {end}"
            return f"from {begin.removesuffix(f' {last.year}')} to {end}"
    return ""


def _day(column: str) -> pl.Expr:
    return pl.lit(FIRST_DAY) + pl.duration(days=pl.col(column).floor().cast(pl.Int64))


def _written(day: date, told_by: str, date_format: str) -> str:
    return month_text(day, date_format) if told_by == "month" else str(day.year)
