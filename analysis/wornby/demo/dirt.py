"""What goes wrong between the ramp and the export: odometers, dates, plates, double entries."""

import numpy as np
import polars as pl

from wornby.demo.places import World
from wornby.demo.plates import registrations, retyped, transferred

KM_PER_MILE = 1.609344
UNREADABLE = ("32/13/2015", "tbc", "00/00/0000", "??/06", "n/k", "31/02/2016")


def dirty_jobs(jobs: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """The jobs as their heads were written: shown_mi, odometer_text, date_text, registration.

    `dirt` lists by name what is wrong with each. Takes the frame of `job_table` with the true
    registration.
    """
    jobs = jobs.with_columns(
        dirt=pl.lit([], dtype=pl.List(pl.String)), shown_mi=pl.col("odometer_mi")
    ).sort("vehicle", "day")
    jobs = instruments_replaced(rolled_back(jobs, world=world, rng=rng), world=world, rng=rng)
    jobs = with_odometer_text(jobs.sort("day", "vehicle"), world=world, rng=rng)
    jobs = with_date_text(jobs, world=world, rng=rng)
    return with_registration_text(jobs, world=world, rng=rng)


def named_dirt(names: dict[str, float], n: int, rng: np.random.Generator) -> pl.Series:
    """At most one of the kinds of dirt for each of n rows, each at its rate; else empty."""
    rates = np.array(list(names.values()))
    drawn = np.searchsorted(np.cumsum(rates), rng.random(n), side="right")
    return pl.Series("slip", np.array([*names, ""])[drawn], dtype=pl.String)


def noted(jobs: pl.DataFrame) -> pl.DataFrame:
    """Add the slip of each row to its dirt."""
    slipped = pl.col("slip") != ""
    dirt = pl.when(slipped).then(pl.concat_list("dirt", "slip")).otherwise("dirt")
    return jobs.with_columns(dirt=dirt)


def rolled_back(jobs: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Some odometers lose a fifth to nearly half of their distance, and run on from there."""
    rate = world.parameters.dirt.odometer_rolled_back
    slip = named_dirt({"odometer rolled back": rate}, jobs.height, rng)
    jobs = jobs.with_columns(
        pl.when(pl.col("first")).then(pl.lit("")).otherwise(slip).alias("slip"),
        share=rng.uniform(0.2, 0.45, jobs.height),
    )
    lost = (
        pl.when(pl.col("slip") != "").then(pl.col("odometer_mi") * pl.col("share")).otherwise(0.0)
    )
    shown = pl.col("shown_mi") - lost.cum_sum().over("vehicle").round(0)
    return noted(jobs.with_columns(shown_mi=pl.max_horizontal(shown, 1.0))).drop("slip", "share")


def instruments_replaced(
    jobs: pl.DataFrame, *, world: World, rng: np.random.Generator
) -> pl.DataFrame:
    """A few vans get a new instrument, which starts from nought some miles before a visit."""
    later = jobs.filter(~pl.col("first")).select("vehicle", "day")
    wanted = min(world.parameters.dirt.n_instruments_replaced, later["vehicle"].n_unique())
    shuffled = later.sample(fraction=1.0, shuffle=True, seed=int(rng.integers(2**32)))
    at = shuffled.unique("vehicle", keep="first", maintain_order=True).head(wanted)
    at = at.with_columns(since=pl.Series(rng.integers(10, 500, wanted)).cast(pl.Float64))
    jobs = jobs.join(at, on=["vehicle", "day"], how="left", maintain_order="left")
    zero = (pl.col("shown_mi") - pl.col("since")).forward_fill().over("vehicle").fill_null(0.0)
    slip = (
        pl.when(pl.col("since").is_not_null())
        .then(pl.lit("instrument replaced"))
        .otherwise(pl.lit(""))
    )
    jobs = jobs.with_columns(shown_mi=pl.max_horizontal(pl.col("shown_mi") - zero, 1.0), slip=slip)
    return noted(jobs).drop("slip", "since")


def with_odometer_text(
    jobs: pl.DataFrame, *, world: World, rng: np.random.Generator
) -> pl.DataFrame:
    """The odometer as written: kilometres now and then, a digit lost, nothing at all."""
    dirt = world.parameters.dirt
    slips = {
        "odometer in km, marked": dirt.odometer_km_marked,
        "odometer in km, unmarked": dirt.odometer_km_unmarked,
        "odometer digit dropped": dirt.odometer_digit_dropped,
        "odometer blank": dirt.odometer_blank,
    }
    jobs = noted(jobs.with_columns(named_dirt(slips, jobs.height, rng)))
    miles, km = whole(pl.col("shown_mi")), whole(pl.col("shown_mi") * KM_PER_MILE)
    separated = pl.Series(rng.random(jobs.height) < dirt.odometer_thousands_separator)
    separated &= ~jobs["new_system"]
    at = (pl.Series(rng.random(jobs.height)) * miles.str.len_chars()).cast(pl.Int64)
    written = {
        "odometer in km, marked": km + " km",
        "odometer in km, unmarked": km,
        "odometer digit dropped": miles.str.slice(0, at) + miles.str.slice(at + 1),
        "odometer blank": pl.lit(None, pl.String),
    }
    usual = pl.when(separated).then(with_thousands(miles)).otherwise(miles)
    return jobs.with_columns(odometer_text=by_slip(written, usual)).drop("slip")


def by_slip(written: dict[str, pl.Expr], usual: pl.Expr) -> pl.Expr:
    """What is written where something has slipped, and otherwise as usual."""
    text = usual
    for slip, instead in written.items():
        text = pl.when(pl.col("slip") == slip).then(instead).otherwise(text)
    return text


def with_date_text(jobs: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """The date as written: one form in the new system, several in the old, some no date at all."""
    dirt = world.parameters.dirt
    slips = {
        "date unreadable": dirt.date_unreadable,
        "date in the future": dirt.date_in_the_future,
        "date blank": dirt.date_blank,
    }
    jobs = noted(jobs.with_columns(named_dirt(slips, jobs.height, rng)))
    day = pl.col("day").cast(pl.Int32).cast(pl.Date)
    usual = date_as_usual(day, jobs, world=world, rng=rng)
    written = {
        "date unreadable": pl.lit(pl.Series(rng.choice(UNREADABLE, jobs.height))),
        "date in the future": date_as_usual(day.dt.offset_by("20y"), jobs, world=world, rng=rng),
        "date blank": pl.lit(None, pl.String),
    }
    return jobs.with_columns(date_text=by_slip(written, usual)).drop("slip")


def date_as_usual(
    day: pl.Expr, jobs: pl.DataFrame, *, world: World, rng: np.random.Generator
) -> pl.Expr:
    """Year first in the new system; day first in the old, with dots or a month's name at times."""
    form = pl.Series(rng.random(jobs.height))
    another = world.parameters.dirt.date_in_another_form
    return (
        pl.when("new_system")
        .then(day.dt.strftime("%Y-%m-%d"))
        .when(form < 0.6 * another)
        .then(day.dt.strftime("%-d.%-m.%y"))
        .when(form < another)
        .then(day.dt.strftime("%d %b %Y"))
        .otherwise(day.dt.strftime("%d/%m/%Y"))
    )


def with_registration_text(
    jobs: pl.DataFrame, *, world: World, rng: np.random.Generator
) -> pl.DataFrame:
    """The registration as written: retyped, not in the vehicle list, or another van's by now."""
    dirt = world.parameters.dirt
    jobs = transferred(jobs, dirt.n_registrations_transferred, rng)
    slips = {
        "registration retyped": dirt.registration_retyped,
        "registration unknown": dirt.registration_unknown,
    }
    jobs = noted(jobs.with_columns(named_dirt(slips, jobs.height, rng)))
    written = {
        "registration retyped": pl.lit(retyped(jobs, rng)),
        "registration unknown": pl.lit(registrations(jobs.height, rng).str.replace("Q", "Y")),
    }
    text = by_slip(written, pl.col("registration"))
    return jobs.with_columns(registration_text=text).drop("slip")


def whole(number: pl.Expr) -> pl.Expr:
    """A number without decimals, as text."""
    return number.round(0).cast(pl.Int64).cast(pl.String)


def with_thousands(text: pl.Expr) -> pl.Expr:
    """84210 as 84,210; decimals stay."""
    return text.str.replace(r"^(-?\d{1,3})(\d{3})(\.|$)", "${1},${2}${3}")


def dirty_lines(lines: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """The lines as exported: credits against some, impossible numbers, whole invoices twice.

    Takes the lines of the jobs with `sequence`, their order in the export.
    """
    dirt = world.parameters.dirt
    slip = named_dirt({"impossible number": dirt.impossible_number_lines}, lines.height, rng)
    lines = noted(lines.with_columns(slip))
    wrong, labour = pl.col("slip") != "", pl.col("kind") == "labour"
    lines = lines.with_columns(
        labour_hours=pl.when(wrong & labour)
        .then(-pl.col("labour_hours"))
        .otherwise("labour_hours"),
        quantity=pl.when(wrong & ~labour).then(0.0).otherwise("quantity"),
    ).drop("slip")
    lines = pl.concat([lines, credits(lines, world=world, rng=rng)])
    jobs = lines["job"].unique(maintain_order=True)
    twice = jobs.filter(pl.Series(rng.random(jobs.len()) < dirt.invoice_twice, dtype=pl.Boolean))
    again = lines.filter(pl.col("job").is_in(twice.implode())).with_columns(
        sequence=pl.col("sequence") + 0.5, dirt=pl.concat_list("dirt", pl.lit("invoice twice"))
    )
    return pl.concat([lines, again]).sort("sequence", "rank", maintain_order=True)


def credits(lines: pl.DataFrame, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Credit notes against part lines: half on the same invoice, half on one of their own later."""
    parts = lines.filter(pl.col("kind") == "part", pl.col("quantity") > 0)
    wanted = min(round(world.parameters.dirt.credit_lines * lines.height), parts.height)
    chosen = np.sort(rng.choice(parts.height, wanted, replace=False))
    later = pl.Series(rng.random(wanted) < 0.5, dtype=pl.Boolean)
    head = (
        pl.when(later)
        .then("Credit against inv " + pl.col("job") + ": ")
        .otherwise(pl.lit("Credit: "))
    )
    nothing = pl.lit(None, pl.String)
    label = pl.element().struct.with_fields(action=pl.lit("none"), reason=nothing, grade=nothing)
    return parts[chosen].with_columns(
        text=head + pl.col("text"),
        quantity=-pl.col("quantity"),
        price_net=-pl.col("price_net"),
        cost_net=-pl.col("cost_net"),
        job=pl.when(later).then(pl.col("job") + "C").otherwise("job"),
        rank=pl.lit(7.0),
        sequence=pl.when(later).then(pl.col("sequence") + 0.25).otherwise("sequence"),
        labels=pl.col("labels").list.eval(label),
        dirt=pl.concat_list("dirt", pl.lit("credit")),
    )
