"""The job that a line belongs to where its number is not written."""

import polars as pl

NO_NUMBER = "no job number: taken with its vehicle and day"
DAY = ("vehicle", "date")


def with_job_numbers(lines: pl.DataFrame) -> pl.DataFrame:
    """Give each line without a job's number one; `unnumbered` where others of its file have one.

    It belongs to the job of its vehicle and day, where there is one; those of a day with none, or
    with several, are a job of their own, named by the first of these lines. An invoice book often
    numbers the first line alone.
    """
    blank = pl.col("job").is_null() & pl.all_horizontal(pl.col(DAY).is_not_null())
    first = pl.when(blank).then("row").min().over(DAY)
    made = pl.format("{} row {}", pl.col("file").first().over(DAY), first)
    of_day = pl.col("job").drop_nulls()
    only_one = of_day.n_unique().over(DAY) == 1
    number = pl.when(only_one).then(of_day.first().over(DAY)).otherwise(made)
    others_have = pl.col("job").is_not_null().any().over("file")
    return lines.with_columns(
        job=pl.when(blank).then(number).otherwise("job"), unnumbered=blank & others_have
    )


def named_unnumbered(judged: pl.DataFrame) -> pl.DataFrame:
    """The accepted lines that took a number from their day say so by their reason."""
    mended = (pl.col("fate") == "accepted") & pl.col("unnumbered")
    return judged.with_columns(reason=pl.when(mended).then(pl.lit(NO_NUMBER)).otherwise("reason"))
