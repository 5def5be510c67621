"""What is written differently from place to place: distances, money, days and months."""

from datetime import date

PER_MILE = {"miles": 1.0, "kilometres": 1.609344}
"""Units that distances may be shown in, and how many make a mile (the international one, 1959)."""
CURRENCY_SIGNS = {"GBP": "£", "EUR": "€", "USD": "$"}
DATE_FORMATS = {
    "day month year": ("{0.day} {0:%B %Y}", "{0:%B %Y}"),
    "month day year": ("{0:%B} {0.day}, {0:%Y}", "{0:%B %Y}"),
    "day/month/year": ("{0:%d/%m/%Y}", "{0:%m/%Y}"),
    "month/day/year": ("{0:%m/%d/%Y}", "{0:%m/%Y}"),
    "year-month-day": ("{0:%Y-%m-%d}", "{0:%Y-%m}"),
}
"""How a day is written, and how a month."""

DISTANCES_UNSAID, DATES_UNSAID = "miles", "day month year"
"""What is taken where workshop.toml says nothing of it."""


def day_text(day: date, date_format: str) -> str:
    """A day as one of `DATE_FORMATS` has it.

    >>> [day_text(date(2024, 3, 5), wanted) for wanted in ("day month year", "month/day/year")]
    ['5 March 2024', '03/05/2024']
    """
    return DATE_FORMATS[date_format][0].format(day)


def month_text(day: date, date_format: str) -> str:
    """The month of a day as one of `DATE_FORMATS` has it.

    >>> [month_text(date(2024, 3, 5), wanted) for wanted in ("day month year", "month/day/year")]
    ['March 2024', '03/2024']
    """
    return DATE_FORMATS[date_format][1].format(day)
