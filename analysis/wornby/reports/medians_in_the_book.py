"""The age and distance at which answers are compared: those of the median vehicle in the book."""

from wornby.decisions.book import vehicles_in_the_book
from wornby.errors import EstimateError
from wornby.reports.amounts import amount
from wornby.reports.workshop import Workshop

ROUND_MI = 10_000.0


def book_ages(workshop: Workshop) -> dict[str, float]:
    """Median age in whole years and distance in ten thousands of miles, by scale."""
    book = vehicles_in_the_book(workshop.records)
    age, distance = book["age_years"].median(), book["odometer_mi"].median()
    if not isinstance(age, float) or not isinstance(distance, float):
        raise EstimateError("no vehicle is in the book: no age to compare at")
    return {
        "age": max(float(round(age)), 1.0),
        "distance": max(ROUND_MI * round(distance / ROUND_MI), ROUND_MI),
    }


def book_ages_sentence(ages: dict[str, float]) -> str:
    """What those ages are, for a note."""
    return (
        f"The age is {amount(ages['age'], 'miles')} years, or "
        f"{amount(ages['distance'], 'miles')} miles for parts that wear by distance: about those "
        "of the median vehicle in the book."
    )
