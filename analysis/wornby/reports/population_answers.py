"""Answers on the vehicles on the road: failures for each thousand car-years, and their trend."""

from pathlib import Path
from typing import Any

import polars as pl

from wornby.curves.population_rates import (
    AGE_BAND_YEARS,
    RateTrend,
    failure_rates,
    rate,
    rate_trend,
)
from wornby.curves.uncertainty import Estimate
from wornby.errors import EstimateError
from wornby.histories.population import PopulationView, population_view
from wornby.histories.two_views import reconciled
from wornby.reports.amounts import percent
from wornby.reports.answer import Answer, Answers
from wornby.reports.sentences import Sentences
from wornby.reports.workshop import Workshop
from wornby.survey.answers import holds_population, read_population

BOUNDS = ("value", "lower", "upper")
NO_TREND = "not enough to tell"
NO_ROAD = (
    "The folder tells nothing of the vehicles on the road, so failures are not set against "
    'car-years; name such a table in layout.toml ([[file]] with table = "population").'
)


def road_answers(workshop: Workshop, folder: Path | str) -> Answers | Sentences:
    """Both counts where the folder tells of the vehicles on the road, or what it would take."""
    if not holds_population(Path(folder)):
        return Sentences((NO_ROAD,))
    on_the_road = read_population(Path(folder))
    told = population_answer(workshop, on_the_road), reconciliation_answer(workshop, on_the_road)
    return Answers(told)


def population_answer(workshop: Workshop, population: pl.DataFrame) -> Answer:
    """Failures of each component for each 1,000 car-years, on the road and in the book.

    `population` is the table of vehicles on the road (`tables.POPULATION`).
    """
    view = population_view(workshop.records, population)
    _need_overlap(view)
    rows = [_row(workshop, view, name) for name in workshop.catalogue.components]
    return Answer(
        "Failures for each 1,000 car-years, of all on the road and of those in the book",
        pl.DataFrame([_told(row) for row in rows]),
        pl.DataFrame(rows, infer_schema_length=None),
        _notes(workshop, view),
    )


def population_rate_answer(
    workshop: Workshop, population: pl.DataFrame, component: str, *, by: str
) -> Answer:
    """One component's failures for each 1,000 car-years, by calendar year, age or model year."""
    workshop.catalogue.component(component)
    view = population_view(workshop.records, population)
    _need_overlap(view)
    cells = view.cells.filter(component=component)
    road, book = (
        failure_rates(side, by=by, confidence=workshop.confidence)
        for side in (_on_the_road(cells), _in_the_book(cells))
    )
    frame = _sided(road, "road_").join(_sided(book, "book_"), on="group", how="left")
    people = [
        {
            by: _group(row["group"], by),
            "failures": str(row["road_failures"]),
            "car-years on the road": f"{row['road_car_years']:,.0f}",
            "per 1,000 on the road, at least": _rate_text(row, "road_", digits=2),
            "while watched": str(row["book_failures"] or 0),
            "car-years watched": f"{row['book_car_years'] or 0:,.0f}",
            "per 1,000 watched": _rate_text(row, "book_", digits=1),
        }
        for row in frame.to_dicts()
    ]
    return Answer(
        f"{component}: failures for each 1,000 car-years, by {by}",
        pl.DataFrame(people),
        frame,
        _notes(workshop, view),
    )


def reconciliation_answer(workshop: Workshop, population: pl.DataFrame) -> Answer:
    """What parts the population's count of failures from the one the curves are made of."""
    view = population_view(workshop.records, population)
    sums = view.cells.group_by("component").agg(
        pl.col("on_the_road").sum(), book_years=pl.col("watched").sum()
    )
    frame = (
        reconciled(workshop.records, workshop.histories, workshop.episodes)
        .join(sums, on="component", how="left", maintain_order="left")
        .join(_named(view.first_visit, "at_first_visit"), on="component", how="left")
        .join(_named(view.outside, "outside_population"), on="component", how="left")
        .with_columns(pl.col("at_first_visit", "outside_population").fill_null(0))
    )
    people = [
        {
            "component": row["component"],
            "failures told": f"{row['told']:.0f}",
            "ended no part in sight": _less(row["no_fitment"]),
            "seen by a look alone": _plus(row["only_looked_at"]),
            "of unknown age": _less(row["of_unknown_age"]),
            "not watched before": _less(row["not_at_risk"]),
            "no life ended by the rule": _less(row["no_life_ended"]),
            "other ends that count": _plus(row["other_ends"]),
            "failures in the curves": f"{row['in_episodes']:g}",
            "car-years on the road": f"{row['on_the_road']:,.0f}",
            "in the book": f"{row['book_years']:,.0f}",
            "in the curves": f"{row['watched_years']:,.0f}",
        }
        for row in frame.to_dicts()
    ]
    return Answer(
        "From the population's count to the curves'",
        pl.DataFrame(people),
        frame,
        (
            "Each row adds up from left to right. Car-years in the curves leave out the time in "
            "which nobody knew how old the part was, and are those of one place where there are "
            "several; those in the book run from a vehicle's first visit to its last.",
            f"Rule: {workshop.episodes.rule.sentence()}.",
        ),
    )


def _row(workshop: Workshop, view: PopulationView, component: str) -> dict[str, Any]:
    cells = view.cells.filter(component=component)
    sums = cells.select(
        pl.col("failures", "on_the_road", "watched_failures", "watched").sum()
    ).to_dicts()[0]
    road = rate(sums["failures"], sums["on_the_road"], confidence=workshop.confidence)
    book = rate(sums["watched_failures"], sums["watched"], confidence=workshop.confidence)
    trend = _trend(workshop, cells)
    yearly = trend.yearly if trend else Estimate(None, None, None, workshop.confidence, "")
    return {
        "component": component,
        **sums,
        "watched_share": sums["watched"] / sums["on_the_road"],
        **{f"road_{part}": getattr(road, part) for part in BOUNDS},
        **{f"book_{part}": getattr(book, part) for part in BOUNDS},
        **{f"yearly_{part}": getattr(yearly, part) for part in BOUNDS},
        "confidence": workshop.confidence,
    }


def _told(row: dict[str, Any]) -> dict[str, str]:
    return {
        "component": row["component"],
        "failures": str(row["failures"]),
        "per 1,000 on the road, at least": _rate_text(row, "road_", digits=2),
        "while watched": str(row["watched_failures"]),
        "per 1,000 watched": _rate_text(row, "book_", digits=1),
        "from year to year, at one age": _trend_text(row),
    }


def _trend(workshop: Workshop, cells: pl.DataFrame) -> RateTrend | None:
    """The trend of watched failures in the years whose vehicles have had time to come again.

    In the last years a watch ends at a visit that a failure brought about more often than not,
    and the rate would seem to rise.
    """
    settled = cells.filter(pl.col("calendar_year") <= _last_settled(workshop))
    try:
        return rate_trend(_in_the_book(settled), confidence=workshop.confidence)
    except EstimateError:
        return None


def _last_settled(workshop: Workshop) -> int:
    """The last calendar year that ended `book_months` or more before the close of records."""
    close, months = workshop.catalogue.records_until, workshop.catalogue.book_months
    return (12 * close.year + close.month - months) // 12 - 1


def _on_the_road(cells: pl.DataFrame) -> pl.DataFrame:
    return cells.select("model_year", "calendar_year", "failures", car_years="on_the_road")


def _in_the_book(cells: pl.DataFrame) -> pl.DataFrame:
    return cells.select(
        "model_year", "calendar_year", failures="watched_failures", car_years="watched"
    )


def _need_overlap(view: PopulationView) -> None:
    if not view.cells["on_the_road"].sum():
        raise EstimateError(
            "no vehicle on the road in the calendar years of the records: the population table "
            "wants the years in which the workshop kept records"
        )


def _notes(workshop: Workshop, view: PopulationView) -> tuple[str, ...]:
    first, *_ = view.cells.partition_by("component", maintain_order=True)
    share = float(first["watched"].sum()) / float(first["on_the_road"].sum())
    years = first["calendar_year"].unique().sort().to_list()
    outside = int(view.outside["failures"].sum())
    notes: tuple[str, ...] = (
        f"In {years[0]} to {years[-1]} this book watched {percent(share)} of the car-years on "
        "the road. Failures mended elsewhere are not in its records, so a rate on the road is a "
        "lower bound, unless the records are all that there are (a club's, a network's). The rate "
        "while watched is that of the book's own vehicles, from first visit to last.",
        f"Limits: {workshop.confidence:.0%}, two-sided, exact if failures come independently "
        "(Garwood 1936). A failure that brought a vehicle in for the first time counts on the "
        "road, not while watched.",
        f"The change from year to year compares vehicles of one age, up to "
        f"{_last_settled(workshop)}: of those last seen later, more came because something had "
        f"failed (Poisson regression, Wald). Unadjusted: {len(workshop.catalogue.components)} are "
        f"looked at, and of those without a change {1 - workshop.confidence:.0%} leave out 1.",
    )
    if outside:
        notes += (
            f"{outside:,} failures are of a model year, version or calendar year that the "
            "population table does not hold: they count in neither rate.",
        )
    return notes


def _sided(rates: pl.DataFrame, side: str) -> pl.DataFrame:
    return rates.rename({name: f"{side}{name}" for name in rates.columns if name != "group"})


def _named(frame: pl.DataFrame, name: str) -> pl.DataFrame:
    return frame.rename({"failures": name})


def _group(first: int, by: str) -> str:
    return f"{first} to {first + AGE_BAND_YEARS - 1} years" if by == "age" else str(first)


def _rate_text(row: dict[str, Any], side: str, *, digits: int) -> str:
    if row[f"{side}value"] is None:
        return "none watched"
    value, lower, upper = (f"{row[side + part]:.{digits}f}" for part in BOUNDS)
    return f"{value} ({lower} to {upper})"


def _trend_text(row: dict[str, Any]) -> str:
    if row["yearly_value"] is None:
        return NO_TREND
    value, lower, upper = (f"{row[f'yearly_{part}']:.2f}" for part in BOUNDS)
    return f"x {value} ({lower} to {upper})"


def _less(number: float) -> str:
    return f"- {number:g}" if number else ""


def _plus(number: float) -> str:
    return f"+ {number:g}" if number else ""
