"""The club's letter in sentences: who answered, what was found and how, what the press prints."""

from typing import Any

from wornby.reports.amounts import amount, between, percent, stated
from wornby.reports.answer import Answer
from wornby.reports.club import Club
from wornby.reports.club_answers import how_many, places_of
from wornby.reports.club_version_answers import version_method
from wornby.reports.nonresponse_answers import readiness_method
from wornby.reports.sentences import Sentences
from wornby.reports.survey_share_answers import ON_THE_CURVE, share_method
from wornby.reports.survey_tables import hiding_note
from wornby.survey.nonresponse import check_asked

BRACKETS = (
    "In brackets: how far chance alone may have moved the number. Who chose to answer, and how "
    "members differ from other owners, may move it further."
)
WHY_RENEWED = "Renewed for whatever reason, routine included; that is not the same as failed."


def club_findings(club: Club, shares: Answer, *, members: float | None = None) -> Sentences:
    """Who answered, of how many `members` asked, then each finding, the soonest to give out first.

    EstimateError: fewer asked than answered.
    """
    soonest = shares.frame.sort("weibull_value", descending=True, maintain_order=True)
    note = f" {club.note}" if club.note else ""
    who = f"{club.name or 'The club'}: {_answers_and_vehicles(club)}. {_asked(club, members)}{note}"
    told = [finding(r, places=places_of(club, r["component"])) for r in soonest.to_dicts()]
    return Sentences((who, *told))


def finding(row: dict[str, Any], *, places: int = 1) -> str:
    """A component's finding in one sentence, with its interval and base.

    Of one with several places an owner tells when the first was renewed, and so does the sentence.

    >>> row = {"component": "fuel pump", "by": 12.0, "unit": "years", "effective_base": 85}
    >>> row |= {"weibull_value": 0.41, "weibull_lower": 0.29, "weibull_upper": 0.57}
    >>> row |= {"b10_value": None, "rests_on_the_curve": False}
    >>> finding(row).replace("\\u00a0", " ")
    'Fuel pump: by 12 years 41 % (29 % to 57 %) had been renewed; base: worth 85 answers.'
    >>> finding(row, places=2).partition(")")[2]
    ' of vehicles had had at least one of their two renewed; base: worth 85 answers.'
    """
    name, unit = row["component"], row["unit"]
    by = stated(row["by"], unit).replace(" ", "\u00a0")
    share = (
        f"{percent(row['weibull_value'])} "
        f"({percent(row['weibull_lower'])} to {percent(row['weibull_upper'])})"
    )
    renewed = (
        f"of vehicles had had at least one of their {how_many(places)} renewed"
        if places > 1
        else "had been renewed"
    )
    tenth = ""
    if row["b10_value"] is not None:
        tenth = (
            f", one in ten by {amount(row['b10_value'], unit)} "
            f"({between(row['b10_lower'], row['b10_upper'], unit)}) {unit}"
        )
    curve = f"; {ON_THE_CURVE}" if row["rests_on_the_curve"] else ""
    return (
        f"{name[0].upper()}{name[1:]}: by {by} {share} {renewed}"
        f"{tenth}{curve}; base: worth {row['effective_base']} answers."
    )


def press_words(club: Club, *, members: float | None = None) -> Sentences:
    """The line to print below a finding, and how to print one.

    EstimateError: fewer `members` asked than answered.
    """
    of_club = f"{club.name}: " if club.name else ""
    source = (
        f"Survey of members, not a sample of all owners. {of_club}{_answers_and_vehicles(club)}. "
        f"{_asked(club, members)} {BRACKETS} {WHY_RENEWED}"
    )
    return Sentences(
        (
            f'Below each finding: "{source}"',
            'A finding goes out with its age or distance, its range and its base. "By 12 years" '
            "belongs to the number: it speaks of parts that reach that age, not of all vehicles.",
            f'A finding that "{ON_THE_CURVE}" is not for print: the answers by themselves do not '
            "bear it out, or are too few to tell.",
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
            f"Ranges in brackets are {percent(club.confidence)} intervals: they hold for chance "
            "alone.",
            *share_method(club.lives, weighted),
            *readiness_method(club.confidence),
            *version_method(club),
            "A part counts as renewed for whatever reason: few answers say whether it had failed. "
            "A share of those who answered, without their vehicles' ages, is no life.",
            "No member's answer, name or words are shown.",
            hiding_note(club.published.thresholds),
        )
    )


def _asked(club: Club, members: float | None) -> str:
    """Of how many asked these are the answers, where anybody says."""
    if members is None:
        return "Nobody said how many members were asked."
    check_asked(club.weighted, members)
    rate = percent(club.weighted.answers.height / members)
    return f"{members:,.0f} members were asked; {rate} answered."


def _answers_and_vehicles(club: Club) -> str:
    """How many answers, when they were given, and for how many vehicles they speak."""
    weighted = club.weighted
    when = f" given {club.answered}" if club.answered else ""
    vehicles = weighted.on_the_road["on_the_road"].sum()
    return (
        f"{weighted.answers.height:,} answers{when}, weighted to the {vehicles:,.0f} vehicles on "
        f"the road in {weighted.calendar_year}"
    )
