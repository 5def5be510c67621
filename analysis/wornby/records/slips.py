"""Slips of the pen in odometer readings: kilometres for miles, a digit lost or doubled."""

import polars as pl

from wornby.records.values import MILES_PER_KM

DIGIT = 10.0
NEAR = 0.15
"""A reading within this share of what the neighbours suggest is called by the slip's name."""
NEARER = 0.07
"""Where nothing contradicts a reading it must fit the slip this well to be called one."""
SUDDEN_MILES_PER_YEAR = 30_000.0
SUDDEN = 3.0
"""A jump is a pace above both 30,000 miles a year and three times the vehicle's own."""
KILOMETRES = "looks like kilometres"
DIGITS = "looks like a digit dropped or doubled"


def slip_names(daily: pl.DataFrame, bad: pl.Series) -> pl.DataFrame:
    """What probably went wrong with each bad reading, judged by its good neighbours."""
    good = daily.filter(~pl.col("reading").is_in(bad.implode()))
    wrong = daily.filter(pl.col("reading").is_in(bad.implode())).sort("date")
    expected = wrong.join_asof(
        good.select("vehicle", "instrument", "date", near_mi="odometer_mi").sort("date"),
        on="date",
        by=["vehicle", "instrument"],
        strategy="nearest",
        check_sortedness=False,
    )
    ratio = pl.col("odometer_mi") / pl.col("near_mi")
    reason = (
        pl.when(_near(ratio, 1 / MILES_PER_KM, NEAR))
        .then(pl.lit(KILOMETRES))
        .when(_near(ratio, 1 / DIGIT, NEAR) | _near(ratio, DIGIT, NEAR))
        .then(pl.lit(DIGITS))
        .when(ratio < 1)
        .then(pl.lit("runs back"))
        .otherwise(pl.lit("contradicts other visits"))
    )
    return expected.select("reading", reason=reason)


def out_of_line(good: pl.DataFrame) -> pl.DataFrame:
    """Readings that contradict none, yet jump by just what a slip makes: reading, reason.

    A last reading in kilometres never falls behind a later one, nor does a first one that lost
    a digit exceed any. Such a jump is known by a sudden pace and by its size: the pace since
    new rises 1.61-fold (kilometres: the later reading is the slip, and so are those after it
    that keep the ratio) or tenfold (a digit: the one farther from the fleet's median pace).
    """
    left = good.filter(pl.col("instrument") == 0)
    found = pl.DataFrame(schema={"vehicle": pl.String, "reading": pl.UInt32, "reason": pl.String})
    while True:
        odd = _first_jump(left, found.filter(pl.col("reason") == KILOMETRES)["vehicle"])
        if odd.is_empty():
            return _to_the_last(found, left).select("reading", "reason")
        found = pl.concat([found, odd])
        left = left.join(odd, on="reading", how="anti", maintain_order="left")


def _to_the_last(found: pl.DataFrame, left: pl.DataFrame) -> pl.DataFrame:
    """Kilometres that a later reading in miles fits on to are none: the vehicle drove fast then."""
    last = left.group_by("vehicle").agg(last=pl.col("reading").max())
    both = found.join(last, on="vehicle", how="left")
    followed = (pl.col("reason") == KILOMETRES) & (pl.col("last") > pl.col("reading"))
    return both.filter(~followed.fill_null(False))


def _first_jump(left: pl.DataFrame, known_km: pl.Series) -> pl.DataFrame:
    """The first slip of each vehicle that has one: vehicle, reading, reason."""
    pace, age, mi = (pl.col(name) for name in ("miles_per_year", "age_years", "odometer_mi"))
    last_pace = pace.shift(1).over("vehicle")
    since = (mi - mi.shift(1).over("vehicle")) / (age - age.shift(1).over("vehicle"))
    sudden = since > pl.max_horizontal(pl.lit(SUDDEN_MILES_PER_YEAR), SUDDEN * last_pace)
    in_km = _near(pace / last_pace, 1 / MILES_PER_KM, NEARER)
    seen_km = pl.col("vehicle").is_in(known_km.implode())
    digits = sudden & _near(pace / last_pace, DIGIT, NEAR)
    usual = pace.median()
    earlier = (last_pace / usual).log().abs() > (pace / usual).log().abs()
    jumps = left.with_columns(last_reading=pl.col("reading").shift(1).over("vehicle")).select(
        "vehicle",
        reading=pl.when(digits & earlier).then("last_reading").otherwise("reading"),
        reason=pl.when(in_km & (sudden | seen_km))
        .then(pl.lit(KILOMETRES))
        .when(digits)
        .then(pl.lit(DIGITS)),
    )
    return jumps.drop_nulls("reason").unique("vehicle", keep="first", maintain_order=True)


def _near(ratio: pl.Expr, target: float, share: float) -> pl.Expr:
    return (ratio / target - 1).abs() < share
