"""Which odometer readings of one vehicle can stand beside each other."""

import polars as pl

from wornby.ledger import Ledger, ledger_from
from wornby.records.values import MILES_PER_KM

MOST_MILES_PER_YEAR = 80_000.0
DIGIT = 10.0
NEAR = 0.15
"""A reading within this share of what the neighbours suggest is called by the slip's name."""


def clean_readings(readings: pl.DataFrame, *, tolerance_mi: float) -> tuple[pl.DataFrame, Ledger]:
    """Set aside readings that contradict the vehicle's others; never mend one.

    Two readings contradict each other when the later is lower by more than the tolerance, or
    higher than any vehicle drives (80,000 miles a year). The reading with most contradictions
    goes first, and of two alike the one that lies farther from the reading before it. Takes
    and returns vehicle, date, odometer_mi; several readings of one day count as one, the
    highest.
    """
    daily = (
        readings.drop_nulls("odometer_mi")
        .group_by("vehicle", "date")
        .agg(pl.col("odometer_mi").max())
        .sort("vehicle", "date")
        .with_row_index("reading")
    )
    bad = _contradicting(daily, tolerance_mi)
    judged = daily.join(_named_slips(daily, bad), on="reading", how="left").with_columns(
        fate=pl.when(pl.col("reason").is_null())
        .then(pl.lit("accepted"))
        .otherwise(pl.lit("set aside")),
        reason=pl.col("reason").fill_null(""),
    )
    kept = judged.filter(pl.col("fate") == "accepted").select("vehicle", "date", "odometer_mi")
    return kept, ledger_from("odometer readings, one a vehicle and day", judged)


def _contradicting(daily: pl.DataFrame, tolerance_mi: float) -> pl.Series:
    """The readings to set aside, worst first within each vehicle, until the rest agree."""
    neighbours = daily.with_columns(
        next_mi=pl.col("odometer_mi").shift(-1).over("vehicle"),
        next_date=pl.col("date").shift(-1).over("vehicle"),
    )
    suspects = neighbours.filter(
        _contradict("odometer_mi", "next_mi", "date", "next_date", tolerance_mi)
    )
    leap = (pl.col("odometer_mi") - pl.col("odometer_mi").shift(1).over("vehicle")).abs()
    leaps = daily.select("reading", leap=leap.fill_null(0.0))
    left = daily.join(suspects.select("vehicle").unique(), on="vehicle", how="semi")
    later = left.rename({"reading": "reading_2", "date": "date_2", "odometer_mi": "odometer_mi_2"})
    pairs = (
        left.join(later, on="vehicle")
        .filter(pl.col("date") < pl.col("date_2"))
        .filter(_contradict("odometer_mi", "odometer_mi_2", "date", "date_2", tolerance_mi))
        .select("vehicle", "reading", "reading_2")
    )
    bad = pl.Series("reading", [], dtype=pl.UInt32)
    while pairs.height:
        ends = pl.concat(
            [pairs.select("vehicle", "reading"), pairs.select("vehicle", reading="reading_2")]
        )
        counts = ends.group_by("vehicle", "reading").len().join(leaps, on="reading")
        counts = counts.sort("len", "leap", "reading", descending=True)
        worst = counts.unique("vehicle", keep="first", maintain_order=True)["reading"]
        bad = bad.append(worst)
        gone = worst.implode()
        pairs = pairs.filter(~pl.col("reading").is_in(gone) & ~pl.col("reading_2").is_in(gone))
    return bad


def _contradict(first: str, second: str, day: str, next_day: str, tolerance_mi: float) -> pl.Expr:
    years = (pl.col(next_day) - pl.col(day)).dt.total_days() / 365.25
    gain = pl.col(second) - pl.col(first)
    return (gain < -tolerance_mi) | (gain > MOST_MILES_PER_YEAR * years + tolerance_mi)


def _named_slips(daily: pl.DataFrame, bad: pl.Series) -> pl.DataFrame:
    """What probably went wrong with each bad reading, judged by its good neighbours."""
    good = daily.filter(~pl.col("reading").is_in(bad.implode()))
    wrong = daily.filter(pl.col("reading").is_in(bad.implode())).sort("date")
    expected = wrong.join_asof(
        good.select("vehicle", "date", near_mi="odometer_mi").sort("date"),
        on="date",
        by="vehicle",
        strategy="nearest",
        check_sortedness=False,
    )
    ratio = pl.col("odometer_mi") / pl.col("near_mi")
    reason = (
        pl.when(_near(ratio, 1 / MILES_PER_KM))
        .then(pl.lit("looks like kilometres"))
        .when(_near(ratio, 1 / DIGIT) | _near(ratio, DIGIT))
        .then(pl.lit("looks like a digit dropped or doubled"))
        .when(ratio < 1)
        .then(pl.lit("runs back"))
        .otherwise(pl.lit("contradicts other visits"))
    )
    return expected.select("reading", reason=reason)


def _near(ratio: pl.Expr, target: float) -> pl.Expr:
    return (ratio / target - 1).abs() < NEAR
