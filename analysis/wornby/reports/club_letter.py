"""The club's letter in sentences: who answered, what was found and how, what the press prints."""

from typing import Any

from wornby.reports.amounts import amount, between, percent, stated
from wornby.reports.answer import Answer
from wornby.reports.club import Club
from wornby.reports.sentences import Sentences
from wornby.reports.survey_tables import hiding_note


def club_findings(club: Club, shares: Answer) -> Sentences:
    """Who answered, then each component's finding, those that give out soonest first."""
    soonest = shares.frame.sort("weibull_value", descending=True, maintain_order=True)
    note = f" {club.note}" if club.note else ""
    who = f"{club.name or 'The club'}: {_answers_and_vehicles(club)}.{note}"
    return Sentences((who, *(finding(row) for row in soonest.to_dicts())))


def finding(row: dict[str, Any]) -> str:
    """A component's finding in one sentence, with its interval and base.

    >>> row = {"component": "fuel pump", "by": 12.0, "unit": "years", "effective_base": 85}
    >>> row |= {"weibull_value": 0.41, "weibull_lower": 0.29, "weibull_upper": 0.57}
    >>> finding(row | {"b10_value": None}).replace("\\u00a0", " ")
    'Fuel pump: by 12 years 41 % (29 % to 57 %) had been renewed; base: worth 85 answers.'
    """
    name, unit = row["component"], row["unit"]
    share = (
        f"{percent(row['weibull_value'])} "
        f"({percent(row['weibull_lower'])} to {percent(row['weibull_upper'])})"
    )
    tenth = ""
    if row["b10_value"] is not None:
        tenth = (
            f", one in ten by {amount(row['b10_value'], unit)} "
            f"({between(row['b10_lower'], row['b10_upper'], unit)}) {unit}"
        )
    return (
        f"{name[0].upper()}{name[1:]}: by {stated(row['by'], unit)} {share} had been renewed"
        f"{tenth}; base: worth {row['effective_base']} answers."
    )


def press_words(club: Club) -> Sentences:
    """The line to print below a finding, and how to print one."""
    of_club = f" of {club.name}" if club.name else ""
    source = (
        f"Survey{of_club}, {_answers_and_vehicles(club)}. In brackets the range that the true "
        f"number lies in with {percent(club.confidence)} chance."
    )
    return Sentences(
        (
            f'Below each finding: "{source}"',
            'A finding goes out with its age or distance, its range and its base. "By 12 years" '
            "belongs to the number: it speaks of parts that reach that age, not of all vehicles.",
            "Every number of this letter stands in a column of its own in the tables beside it, "
            "as a workbook and as CSV.",
        )
    )


def club_method(club: Club) -> Sentences:
    """How the survey was done and how its answers were taken."""
    weighted = club.weighted
    return Sentences(
        (
            f"{weighted.answers.height:,} answers, weighted by model year and version to the "
            f"vehicles on the road in {weighted.calendar_year}; worth "
            f"{weighted.effective_sample_size:.0f} of equal weight. A finding is worth fewer: not "
            "everybody knew of every part.",
            f"How answers were taken: {club.lives.rule.sentence()}.",
            "A part counts as renewed for whatever reason: few answers say whether it had failed. "
            "A share of those who answered, without their vehicles' ages, is no life.",
            "No member's answer, name or words are shown.",
            hiding_note(club.published.thresholds),
        )
    )


def _answers_and_vehicles(club: Club) -> str:
    """How many answers, when they were given, and for how many vehicles they speak."""
    weighted = club.weighted
    when = f" given {club.answered}" if club.answered else ""
    vehicles = weighted.on_the_road["on_the_road"].sum()
    return (
        f"{weighted.answers.height:,} answers{when}, weighted to the {vehicles:,.0f} vehicles on "
        f"the road in {weighted.calendar_year}"
    )
