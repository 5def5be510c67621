"""Answers month by month: failures to expect in each of the next twelve, beside those before."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from wornby.decisions.failures_by_month import MONTHS_A_YEAR
from wornby.histories.recurring import failures_in_past_months
from wornby.records.conventions import day_text
from wornby.reports.amounts import percent
from wornby.reports.answer import Answer
from wornby.reports.forecasts import YEARS_BACK, failures_to_come_by_month
from wornby.reports.sentences import InBrief, Sentences
from wornby.reports.workshop import Workshop

BEFORE = "years_before"


def month_answer(workshop: Workshop) -> Answer:
    """Failures to expect in each of the next twelve months, all components together."""
    close = workshop.catalogue.records_until
    told = failures_to_come_by_month(workshop, months=MONTHS_A_YEAR)
    past = failures_in_past_months(
        workshop.records, workshop.histories, months=YEARS_BACK * MONTHS_A_YEAR
    )
    years = {
        f"failures_{YEARS_BACK - n}_{BEFORE}": past[n * MONTHS_A_YEAR :][:MONTHS_A_YEAR]
        for n in range(YEARS_BACK)
    }
    begins = [pl.lit(close).dt.offset_by("1d").dt.offset_by(f"{n}mo") for n in range(MONTHS_A_YEAR)]
    frame = told.select(
        "month",
        pl.concat_list(begins).list.get(pl.col("month") - 1).alias("begins_on"),
        "expected",
        "lower",
        "upper",
        **{name: pl.Series(counts) for name, counts in years.items()},
        confidence=pl.lit(workshop.confidence),
    )
    people = [
        {
            "month from": day_text(row["begins_on"], workshop.catalogue.date_format),
            "failures to expect": f"{row['expected']:.0f} ({row['lower']} to {row['upper']})",
            f"the same month in the {YEARS_BACK} years before": ", ".join(
                str(row[name]) for name in years
            ),
        }
        for row in frame.to_dicts()
    ]
    return Answer(
        "Failures to expect month by month, all components together",
        pl.DataFrame(people),
        frame,
        (
            "From the vehicles in the book now; the failures of past years hold those of new "
            f"customers as well. Each month falls within its range with "
            f"{percent(workshop.confidence)} of the chances. The season is not in it.",
        ),
    )


def months_in_brief(months: Answer) -> InBrief:
    """The twelve months in two sentences: without a season in it, each row is much like the next.

    The picture shows them one by one, and the table is in the files beside the page.
    """
    frame = months.frame
    past = frame.select(pl.col(f"^.*{BEFORE}$")).to_numpy()
    first, share = months.people["month from"][0], percent(frame["confidence"][0])
    expected, lowest = frame["expected"].to_numpy(), frame["lower"].to_numpy().min()
    told = (
        f"Failures to expect in each of the {frame.height} months from {first}: "
        f"{_span(expected)}, and in {share} of such months {lowest} to "
        f"{frame['upper'].to_numpy().max()}.",
        f"The {past.size} months before brought {past.min()} to {past.max()}, {past.mean():.1f} in "
        "the mean, those of new customers among them. The picture shows them one by one, and the "
        "workbook beside this page has them as numbers.",
    )
    return InBrief(Sentences(told), months)


def _span(values: NDArray[np.float64]) -> str:
    """One number, or the least and the most where they differ: "11", "11 to 12"."""
    least, most = f"{values.min():.0f}", f"{values.max():.0f}"
    return least if least == most else f"{least} to {most}"
