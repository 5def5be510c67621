"""Which odometer readings of one vehicle can stand beside each other."""

import polars as pl

from wornby.ledger import Ledger, ledger_from
from wornby.records.instruments import joined_on, with_instruments
from wornby.records.slips import out_of_line, slip_names

MOST_MILES_PER_YEAR = 80_000.0
MENDED = "mended: the instrument was replaced"
SET_BACK = "runs back and stays behind"


def clean_readings(
    readings: pl.DataFrame, first_registered: pl.DataFrame, *, tolerance_mi: float
) -> tuple[pl.DataFrame, Ledger]:
    """Set aside readings that contradict the vehicle's others; join a new instrument's on.

    Where readings fall and stay down, a stretch that starts near nothing is a replaced
    instrument's, and what the old one had reached is added; any other was set back, and is set
    aside whole. Within a stretch two readings contradict each other when the later is lower by
    more than the tolerance, or higher than any vehicle drives (80,000 miles a year). The one
    with most contradictions goes first, and of two alike the one farther from the vehicle's
    usual pace since new (the fleet's, with two readings). Last, readings that would do, but for
    a jump that is just what kilometres or a lost digit make: see `slips.out_of_line`.

    Takes vehicle, date, odometer_mi, and each vehicle's first_registered; returns the readings,
    several of one day as one, the highest, and whether each was mended.
    """
    days = pl.col("date") - pl.col("first_registered")
    daily = with_instruments(
        readings.drop_nulls("odometer_mi")
        .group_by("vehicle", "date")
        .agg(pl.col("odometer_mi").max())
        .join(first_registered, on="vehicle", how="left")
        .with_columns(age_years=days.dt.total_days().clip(lower_bound=1) / 365.25)
        .with_columns(miles_per_year=pl.col("odometer_mi") / pl.col("age_years"))
        .sort("vehicle", "date")
        .with_row_index("reading"),
        tolerance_mi=tolerance_mi,
    )
    bad = _contradicting(daily, tolerance_mi)
    odd = out_of_line(daily.filter(~pl.col("reading").is_in(bad.implode())))
    slips = pl.concat([slip_names(daily, bad), odd])
    good = daily.join(slips, on="reading", how="anti", maintain_order="left")
    joined = joined_on(good, tolerance_mi=tolerance_mi).select("reading", "mended_mi")
    judged = _judged(daily, slips, joined)
    kept = judged.filter(pl.col("fate") == "accepted")
    return (
        kept.select("vehicle", "date", odometer_mi="mended_mi", mended=pl.col("reason") == MENDED),
        ledger_from("odometer readings, one a vehicle and day", judged),
    )


def _judged(daily: pl.DataFrame, slips: pl.DataFrame, joined: pl.DataFrame) -> pl.DataFrame:
    """Each reading with its fate: as it stands, mended, or set aside by the name of its slip."""
    both = daily.join(slips, on="reading", how="left", maintain_order="left").join(
        joined, on="reading", how="left", maintain_order="left"
    )
    usable = pl.col("mended_mi").is_not_null()
    return both.with_columns(
        fate=pl.when(usable).then(pl.lit("accepted")).otherwise(pl.lit("set aside")),
        reason=pl.when(usable & (pl.col("instrument") > 0))
        .then(pl.lit(MENDED))
        .when(usable)
        .then(pl.lit(""))
        .otherwise(pl.col("reason").fill_null(SET_BACK)),
    )


def _contradicting(daily: pl.DataFrame, tolerance_mi: float) -> pl.Series:
    """The readings to set aside, worst first within each vehicle, until the rest agree."""
    stretch = ("vehicle", "instrument")
    neighbours = daily.with_columns(
        next_mi=pl.col("odometer_mi").shift(-1).over(stretch),
        next_date=pl.col("date").shift(-1).over(stretch),
    )
    suspects = neighbours.filter(
        _contradict("odometer_mi", "next_mi", "date", "next_date", tolerance_mi)
    )
    far = daily.select("reading", far=_farness(), leap=_leap(stretch))
    left = daily.join(suspects.select(stretch).unique(), on=stretch, how="semi")
    later = left.rename({"reading": "reading_2", "date": "date_2", "odometer_mi": "odometer_mi_2"})
    pairs = (
        left.join(later, on=stretch)
        .filter(pl.col("date") < pl.col("date_2"))
        .filter(_contradict("odometer_mi", "odometer_mi_2", "date", "date_2", tolerance_mi))
        .select(*stretch, "reading", "reading_2")
    )
    bad = pl.Series("reading", [], dtype=pl.UInt32)
    while pairs.height:
        ends = pl.concat(
            [pairs.select(*stretch, "reading"), pairs.select(*stretch, reading="reading_2")]
        )
        counts = ends.group_by(*stretch, "reading").len().join(far, on="reading")
        counts = counts.sort("len", "far", "leap", "reading", descending=True)
        worst = counts.unique(stretch, keep="first", maintain_order=True)["reading"]
        bad = bad.append(worst)
        gone = worst.implode()
        pairs = pairs.filter(~pl.col("reading").is_in(gone) & ~pl.col("reading_2").is_in(gone))
    return bad


def _farness() -> pl.Expr:
    """How far a reading lies from the usual pace since new, as a factor; 0 on a new instrument."""
    pace = pl.max_horizontal("miles_per_year", 1.0)
    own = pl.when(pl.len().over("vehicle") >= 3).then(pace.median().over("vehicle"))
    factor = (pace / own.fill_null(pace.median())).log().abs()
    return pl.when(pl.col("instrument") == 0).then(factor.round(6)).otherwise(0.0).fill_null(0.0)


def _leap(stretch: tuple[str, ...]) -> pl.Expr:
    mi = pl.col("odometer_mi")
    return (mi - mi.shift(1).over(stretch)).abs().fill_null(0.0)


def _contradict(first: str, second: str, day: str, next_day: str, tolerance_mi: float) -> pl.Expr:
    years = (pl.col(next_day) - pl.col(day)).dt.total_days() / 365.25
    gain = pl.col(second) - pl.col(first)
    return (gain < -tolerance_mi) | (gain > MOST_MILES_PER_YEAR * years + tolerance_mi)
