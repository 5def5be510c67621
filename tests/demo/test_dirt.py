"""Every kind of dirt comes at its rate, and none where none is wanted."""

import polars as pl
import pytest
from scipy import stats

from wornby.demo import Records, WorldParameters
from wornby.demo.export import NEW_FILE, OLD_FILE
from wornby.demo.parameters import DirtRates

RATES = DirtRates()
BY_JOB = {
    "odometer in km, marked": RATES.odometer_km_marked,
    "odometer in km, unmarked": RATES.odometer_km_unmarked,
    "odometer digit dropped": RATES.odometer_digit_dropped,
    "odometer blank": RATES.odometer_blank,
    "odometer rolled back": RATES.odometer_rolled_back,
    "date unreadable": RATES.date_unreadable,
    "date in the future": RATES.date_in_the_future,
    "date blank": RATES.date_blank,
    "registration retyped": RATES.registration_retyped,
    "registration unknown": RATES.registration_unknown,
    "invoice twice": RATES.invoice_twice,
}


def lines(records: Records) -> pl.DataFrame:
    """file, row, job, date, odometer, registration of every line."""
    old = records.files[OLD_FILE].select(
        job="Invoice", date="Inv date", odometer="Mileage", registration="Reg no", quantity="Qty"
    )
    new = records.files[NEW_FILE].select(
        job="job_no", date="date", odometer="odometer", registration="reg", quantity="qty"
    )
    rows = [
        frame.with_columns(file=pl.lit(name), row=pl.int_range(2, pl.len() + 2))
        for name, frame in ((OLD_FILE, old), (NEW_FILE, new))
    ]
    return pl.concat(rows)


def dirty_lines(records: Records, dirt: str) -> pl.DataFrame:
    return lines(records).join(
        records.truth["dirt.csv"].filter(pl.col("dirt") == dirt), on=["file", "row"]
    )


@pytest.mark.parametrize(("dirt", "rate"), BY_JOB.items())
def test_dirt_of_a_job_comes_at_its_rate(dirt: str, rate: float, dirty: Records) -> None:
    n = dirty.truth["visits.csv"].height
    jobs = dirty_lines(dirty, dirt)["job"].str.strip_suffix("C").n_unique()
    low, high = stats.binom.interval(1 - 1e-4, n, rate)
    assert low <= jobs <= high


def test_credits_and_impossible_numbers_come_at_their_rates(dirty: Records) -> None:
    n = lines(dirty).height
    for dirt, rate in (
        ("credit", RATES.credit_lines),
        ("impossible number", RATES.impossible_number_lines),
    ):
        low, high = stats.binom.interval(1 - 1e-4, n, rate)
        assert low <= dirty_lines(dirty, dirt).height <= high


def test_first_registrations_are_missing_at_their_rate(dirty: Records) -> None:
    vehicles = dirty.files["vehicles.csv"]
    low, high = stats.binom.interval(1 - 1e-4, 1_000, RATES.first_registered_missing_vehicles)
    assert low <= vehicles["First registered"].null_count() <= high


def test_three_instruments_are_replaced(dirty: Records) -> None:
    assert dirty_lines(dirty, "instrument replaced")["job"].n_unique() == 3


def test_two_plates_move_to_vans_with_another_odometer(dirty: Records) -> None:
    unknown = dirty.truth["dirt.csv"].filter(pl.col("dirt") == "registration unknown")
    moved = dirty_lines(dirty, "registration transferred")
    moved = moved.join(unknown, on=["file", "row"], how="anti").join(
        dirty.truth["visits.csv"], on="job", suffix="_true"
    )
    plate = pl.col("registration").str.to_uppercase().str.replace_all(" ", "")
    pairs = moved.select(plate, own=pl.col("registration_true").str.replace(" ", "")).unique()
    assert pairs.height == 2
    assert (pairs["registration"] != pairs["own"]).all()


def test_a_credit_turns_the_quantity_of_an_earlier_line(dirty: Records) -> None:
    assert (dirty_lines(dirty, "credit")["quantity"].cast(pl.Float64) < 0).all()


def test_an_invoice_entered_twice_stands_there_twice(dirty: Records) -> None:
    whole = ["job", "date", "odometer", "registration", "quantity"]
    twice = dirty_lines(dirty, "invoice twice")
    counted = lines(dirty).group_by(whole).len()
    assert twice.height
    assert (twice.join(counted, on=whole, nulls_equal=True)["len"] >= 2).all()


def test_unknown_registrations_are_not_in_the_list(dirty: Records) -> None:
    unknown = dirty_lines(dirty, "registration unknown")["registration"]
    assert not unknown.is_in(dirty.files["vehicles.csv"]["Registration"].implode()).any()


def test_retyped_registrations_still_say_the_same(dirty: Records) -> None:
    retyped = dirty_lines(dirty, "registration retyped")["registration"]
    known = dirty.files["vehicles.csv"]["Registration"]
    meant = retyped.str.to_uppercase().str.replace_all(" ", "")
    assert not retyped.is_in(known.implode()).any()
    assert meant.is_in(known.str.replace(" ", "").implode()).all()


def test_a_clean_world_has_no_dirt(clean: Records) -> None:
    assert clean.truth["dirt.csv"].is_empty()
    rows = lines(clean)
    assert rows["odometer"].str.contains(r"^\d+$").all()
    assert rows["date"].str.contains(r"^(\d{2}/\d{2}/\d{4}|\d{4}-\d{2}-\d{2})$").all()
    assert rows["registration"].is_in(clean.files["vehicles.csv"]["Registration"].implode()).all()
    assert clean.files["vehicles.csv"]["First registered"].null_count() == 0


def test_a_clean_world_shows_the_odometer_as_it_is(clean: Records) -> None:
    shown = lines(clean).join(clean.truth["visits.csv"], on="job")
    assert (shown["odometer"].cast(pl.Float64) == shown["odometer_mi"]).all()
    rising = clean.truth["visits.csv"].sort("registration", "date")
    steps = rising.select(pl.col("odometer_mi").diff().over("registration"))["odometer_mi"]
    assert (steps.drop_nulls() >= 0).all()


def test_without_dirt_changes_nothing_else() -> None:
    world = WorldParameters()
    assert world.without_dirt().lives == world.lives
    assert world.without_dirt().dirt != world.dirt


def shown_and_true(records: Records, dirt: str) -> pl.DataFrame:
    """Odometers with that dirt on vans whose instrument was not meddled with, and the truth."""
    meddled = ["odometer rolled back", "instrument replaced"]
    jobs = lines(records).join(
        records.truth["dirt.csv"].filter(pl.col("dirt").is_in(meddled)), on=["file", "row"]
    )
    visits = records.truth["visits.csv"]
    vans = visits.join(jobs, on="job", how="semi")["registration"].unique()
    visits = visits.filter(~pl.col("registration").is_in(vans.implode()))
    rows = dirty_lines(records, dirt).join(visits, on="job", suffix="_true")
    return rows.with_columns(miles=pl.col("odometer_mi").cast(pl.Int64).cast(pl.String))


def test_kilometres_are_kilometres_with_their_mark_or_without(dirty: Records) -> None:
    """1.609344 km to the international mile of 1959; from memory."""
    for dirt, mark in (("odometer in km, marked", " km"), ("odometer in km, unmarked", "")):
        rows = shown_and_true(dirty, dirt)
        km = (rows["odometer_mi"] * 1.609344).round(0).cast(pl.Int64).cast(pl.String)
        assert rows.height > 10
        assert (rows["odometer"] == km + mark).all()


def test_a_dropped_digit_leaves_the_others_in_order(dirty: Records) -> None:
    rows = shown_and_true(dirty, "odometer digit dropped")
    assert rows.height > 10
    for shown, miles in rows.select(pl.col("odometer").str.replace(",", ""), "miles").iter_rows():
        assert shown in {miles[:n] + miles[n + 1 :] for n in range(len(miles))}


def test_a_blank_odometer_is_blank(dirty: Records) -> None:
    assert dirty_lines(dirty, "odometer blank")["odometer"].null_count() > 100
    assert dirty_lines(dirty, "odometer blank")["odometer"].drop_nulls().is_empty()
