"""The Merrow Circle's survey, and how many Merrows are on the road."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.demo.fleet import DAYS_PER_YEAR, Array, Fleet, day_number, live_elsewhere, new_fleet
from wornby.demo.places import World
from wornby.demo.visits import Book


def survey_answers(book: Book, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """One row a respondent: van, odometer, and for each component original, renewed or don't know.

    Vans of the workshop and others answer at the close of the records, those with more
    renewals rather more often. Both sides count as one: renewed if either was.
    """
    wanted = world.parameters.n_respondents
    from_workshop = round(wanted * world.parameters.respondents_from_workshop)
    others = new_fleet(4 * wanted, world=world, rng=rng)
    chunks = [
        answers(willing(fleet, n, world=world, rng=rng), world=world, rng=rng)
        for fleet, n in ((copied(book.fleet), from_workshop), (others, wanted - from_workshop))
    ]
    mixed = pl.concat(chunks).sample(fraction=1.0, shuffle=True, seed=int(rng.integers(2**32)))
    return mixed.select(pl.int_range(1, pl.len() + 1).alias("respondent"), pl.all())


def copied(fleet: Fleet) -> Fleet:
    """The same vans, to live on without touching the first."""
    return fleet.rows(np.arange(fleet.registered.size))


def willing(fleet: Fleet, n: int, *, world: World, rng: np.random.Generator) -> Fleet:
    """Let the vans live to the day of the survey, then keep n that answer."""
    day = np.full(fleet.registered.size, day_number(world.parameters.records_until))
    live_elsewhere(fleet, day, world=world, rng=rng)
    trouble = np.exp(world.parameters.trouble_answers_more * (~fleet.original).sum(axis=1))
    n = min(n, day.size)
    return fleet.rows(rng.choice(day.size, n, replace=False, p=trouble / trouble.sum()))


def answers(fleet: Fleet, *, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """What the owners of these vans say, as well as they remember."""
    day = day_number(world.parameters.records_until)
    years = (day - fleet.registered) / DAYS_PER_YEAR
    versions = np.array(list(world.parameters.version_shares))
    columns = {
        "model_year": year_of(fleet.registered),
        "version": versions[fleet.version],
        "odometer_mi": np.round(years * fleet.miles_per_year, -3).astype(np.int64),
    }
    table = pl.DataFrame(columns)
    for number, name in enumerate(dict.fromkeys(world.places.names)):
        places = world.places.component == number
        renewed = ~fleet.original[:, places]
        last = np.where(renewed, fleet.fitted[:, places], -np.inf).max(axis=1)
        was = np.asarray(renewed.any(axis=1))
        table = table.hstack(recalled(name, was, last, world=world, rng=rng))
    return table


def year_of(day: Array) -> NDArray[np.int64]:
    """The calendar year of a day."""
    return np.asarray(day.astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64) + 1970)


def recalled(
    name: str, renewed: NDArray[np.bool_], last: Array, *, world: World, rng: np.random.Generator
) -> pl.DataFrame:
    """One component's answer and year: some don't know, years err, and heap on fives and tens."""
    n, recall = renewed.size, world.parameters.recall
    latest = world.parameters.records_until.year
    unsure = rng.random(n) < np.where(renewed, recall.unsure_of_renewed, recall.unsure_of_original)
    forgotten = renewed & (rng.random(n) < recall.forgotten)
    answer = np.select([unsure, renewed & ~forgotten], ["don't know", "renewed"], "original")
    true_year = year_of(np.where(np.isfinite(last), last, 0.0))
    error = np.round(rng.normal(recall.bias_years, recall.sd_years, n)).astype(np.int64)
    year = np.minimum(true_year + error, latest)
    heaped = rng.random(n) < recall.heaped
    near = np.minimum(5 * np.round(year / 5).astype(np.int64), latest)
    text = pl.Series(np.where(heaped, near, year)).cast(pl.String)
    about = pl.Series(rng.random(n) < recall.about) | pl.Series(heaped)
    told = pl.Series(answer == "renewed") & pl.Series(rng.random(n) < recall.year_told)
    rows = pl.DataFrame({"answer": answer, "year": text, "about": about, "told": told})
    when = pl.when("about").then("about " + pl.col("year")).otherwise("year")
    return rows.select(
        pl.col("answer").alias(name), pl.when("told").then(when).alias(f"{name}, when")
    )


def population_table(*, world: World, rng: np.random.Generator) -> pl.DataFrame:
    """Merrows on the road at mid-year, by model year, version and calendar year.

    Scrapping ages are Weibull with shape 3.5 and scale 24 years, whatever the parts do.
    """
    parameters = world.parameters
    years = np.arange(parameters.records_from.year, parameters.records_until.year + 1)
    chunks = []
    for model_year in range(parameters.first_model_year, parameters.last_model_year + 1):
        for version, share in parameters.version_shares.items():
            built = rng.poisson(parameters.vans_built_per_year * share)
            scrapped = model_year + 0.5 + 24 * rng.weibull(3.5, built)
            vans = (scrapped[:, None] > years + 0.5).sum(axis=0)
            row = pl.DataFrame({"calendar_year": years, "vans": vans})
            row = row.filter(pl.col("calendar_year") >= model_year)
            chunks.append(
                row.select(
                    pl.lit(model_year).alias("model_year"),
                    pl.lit(version).alias("version"),
                    pl.all(),
                )
            )
    return pl.concat(chunks)
