"""Registrations of the invented vans: three letters and five digits, a form never issued."""

import numpy as np
import polars as pl

# Q stands in the middle and five digits follow; common practice, no source: British plates
# have had at most four digits beside three letters.
LETTERS = np.array(list("BCDFGHJKLMNPRSTVWX"))


def registrations(n: int, rng: np.random.Generator) -> pl.Series:
    """Registrations, each different from all others.

    >>> registrations(1, np.random.default_rng(1))[0][1]
    'Q'
    """
    numbers = rng.choice(LETTERS.size**2 * 90_000, n, replace=False)
    letters, digits = np.divmod(numbers, 90_000)
    first, last = LETTERS[letters // LETTERS.size], LETTERS[letters % LETTERS.size]
    parts = pl.DataFrame({"first": first, "last": last, "digits": digits + 10_000})
    return parts.select(
        registration=pl.col("first") + "Q" + pl.col("last") + " " + pl.col("digits").cast(pl.String)
    )["registration"]


def retyped(rows: pl.DataFrame, rng: np.random.Generator) -> pl.Series:
    """The column `registration` as a tired hand types it: spaces gone or doubled, small letters."""
    way = pl.Series(rng.integers(0, 4, rows.height))
    plain = pl.col("registration")
    return rows.select(
        pl.when(way == 0)
        .then(plain.str.replace(" ", ""))
        .when(way == 1)
        .then(plain.str.to_lowercase())
        .when(way == 2)
        .then(plain.str.replace(" ", "  "))
        .otherwise(plain.str.to_lowercase().str.replace(" ", ""))
    ).to_series()


def transferred(jobs: pl.DataFrame, n: int, rng: np.random.Generator) -> pl.DataFrame:
    """Let n vans come under the plate of another that has left: `registration`, `dirt` changed.

    A plate moves half a year after its van was last seen, to a van that was there before under
    its own and came again since.
    """
    seen = jobs.group_by("vehicle", maintain_order=True).agg(
        pl.col("day").min().alias("since"),
        pl.col("day").max().alias("until"),
        pl.col("registration").first(),
    )
    left = seen.filter(pl.col("until") < pl.col("until").max() - 730)
    donors = left.sample(min(n, left.height), seed=int(rng.integers(2**32)))
    for _, _, until, registration in donors.iter_rows():
        moved = until + 180
        takers = seen.filter(pl.col("since") < until, pl.col("until") > moved + 365)["vehicle"]
        if takers.len():
            taker = takers[int(rng.integers(takers.len()))]
            which = (pl.col("vehicle") == taker) & (pl.col("day") > moved)
            jobs = with_plate(jobs, registration, which)
    return jobs


def with_plate(jobs: pl.DataFrame, registration: str, which: pl.Expr) -> pl.DataFrame:
    """Write another registration on some jobs."""
    return jobs.with_columns(
        registration=pl.when(which).then(pl.lit(registration)).otherwise("registration"),
        dirt=pl.when(which)
        .then(pl.concat_list("dirt", pl.lit("registration transferred")))
        .otherwise("dirt"),
    )
