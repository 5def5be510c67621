"""The age and distance at which answers are compared: those of the median vehicle in the book."""

import math
from collections.abc import Iterable

from wornby.decisions.book import vehicles_in_the_book
from wornby.errors import EstimateError
from wornby.histories.counts import YEARS
from wornby.reports.amounts import amount, stated
from wornby.reports.workshop import Workshop

ROUND_DISTANCE = 10_000.0
"""Miles or kilometres."""


def book_ages(workshop: Workshop) -> dict[str, float]:
    """Median age in whole years, by unit, and distance in ten thousands where odometers tell it."""
    book = vehicles_in_the_book(workshop.records)
    age, distance = book["age_years"].median(), book["odometer_mi"].median()
    if not isinstance(age, float):
        raise EstimateError("no vehicle is in the book: no age to compare at")
    ages = {YEARS: max(float(round(age)), 1.0)}
    if isinstance(distance, float):
        tens = round(distance * workshop.catalogue.per_mile / ROUND_DISTANCE)
        ages[workshop.catalogue.distances_in] = max(ROUND_DISTANCE * tens, ROUND_DISTANCE)
    return ages


def book_ages_sentence(ages: dict[str, float]) -> str:
    """What those ages are, for a note."""
    age, *distance = (stated(at, unit) for unit, at in ages.items())
    far = f", or {distance[0]} for parts that wear by distance" if distance else ""
    return f"The age is {age}{far}: about as the median vehicle in the book."


def watched_from(firsts: Iterable[tuple[float, str]]) -> str:
    """What shares failed leave out: whatever failed before the first part came under watch.

    >>> watched_from([(2.06, "years"), (2.1, "years"), (7900.0, "miles")])
    'Nobody was watched before 2.1 years or 7,900 miles: the shares are of parts that worked then.'
    """
    by_unit: dict[str, list[float]] = {}
    for first, unit in sorted(firsts):
        if 0 < first < math.inf:
            by_unit.setdefault(unit, []).append(first)
    if not by_unit:
        return ""
    told = [
        _from_to(amount(ages[0], unit), amount(ages[-1], unit), unit)
        for unit, ages in by_unit.items()
    ]
    return (
        f"Nobody was watched before {' or '.join(told)}: the shares are of parts that worked then."
    )


def _from_to(low: str, high: str, unit: str) -> str:
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}, by component,"
