"""Observation rules: what it means to have watched a part, each choice with a name.

A rule is six names, one from each table below. Adding a choice is adding a line; it is printed
with every curve made under it. The tables are expressions over `Histories.fitments`.
"""

from dataclasses import dataclass, replace

import polars as pl

from wornby.errors import RecordError

STARTS = {
    "first seen as original": pl.col("known_original_on"),
    "first visit, taken as original": pl.when(pl.col("found_renewed_on").is_null()).then(
        pl.col("first_visit")
    ),
    "from new": pl.col("first_registered"),
}
"""When the watch of an original fitment starts; a renewed one is watched from its fitting.

What a look calls renewed is not taken as original by any rule but the naive one. Whatever the
start, a failure that brings the vehicle in for the first time ends a watch as it begins: the
part adds nothing, unless it is taken as watched from new.
"""

STILL_COMING_MONTHS = 12
ENDS = {
    "last visit": pl.col("last_visit"),
    "a year after the last visit": pl.min_horizontal(
        pl.col("last_visit").dt.offset_by("12mo"), "closed_on"
    ),
    "close of records where seen within a year of it": pl.when(
        pl.col("last_visit") >= pl.col("closed_on").dt.offset_by(f"-{STILL_COMING_MONTHS}mo")
    )
    .then(pl.col("closed_on"))
    .otherwise(pl.col("last_visit")),
    "close of records": pl.col("closed_on"),
}
"""When the watch of a fitment still in service ends."""

FAILED_SINCE = {
    "the day it was found": pl.col("ended_on"),
    "the routine visit before, where found in the routine": pl.when("ended_in_routine")
    .then("routine_before")
    .otherwise("ended_on"),
    "the visit before": pl.col("visit_before"),
}
"""The day up to which a part that is found failed or degraded is known to have worked.

What brings the vehicle in failed when it was found, or days before. What a routine visit finds
may have failed at any time since the routine visit before (or the first of all), when it was
looked at last; a visit for something else in between looked at nothing.
"""

LIFE_ENDS = {
    "failure": ("failure",),
    "failure or degraded finding": ("failure", "degraded finding"),
    "any renewal for cause or unexplained": ("failure", "degraded finding", "renewal unexplained"),
    "any renewal": ("failure", "degraded finding", "renewal unexplained", "preventive renewal"),
}
"""Which endings end a life; under the others the part was still working when watching stopped."""

WORKED_ON = {
    "until renewed": (),
    "to the end of the watch": ("preventive renewal",),
}
"""How long a part renewed before it failed is taken to have worked.

The second goes on watching as if it had never been renewed, "any renewal" among `LIFE_ENDS`
ends the life there: no life was longer than the one says, nor shorter than the other. A fitted
curve may still pass outside both, since the lives set late lower its shape.
"""

UNKNOWN_AGES = {
    "left out": pl.lit(None, pl.Date),
    "fitted when first seen": pl.col("fitted_on"),
    "fitted as early as can be": pl.col("fitted_since"),
}
"""When a part that was renewed elsewhere, and is watched from when it was found, was fitted."""

ENDED_WORDS = {
    "failure": "failed",
    "failure or degraded finding": "failed or been renewed as degraded",
    "any renewal for cause or unexplained": "failed or been renewed for any reason but precaution",
    "any renewal": "been renewed",
}


@dataclass(frozen=True, slots=True)
class ObservationRule:
    """How histories become episodes: who was watched from when to when, and what ends a life."""

    starts: str
    ends: str
    life_ends: str
    failed_since: str = "the day it was found"
    worked_on: str = "until renewed"
    unknown_ages: str = "left out"

    def __post_init__(self) -> None:
        """Refuse a choice that has no line in its table."""
        for choice, table in (
            (self.starts, STARTS),
            (self.ends, ENDS),
            (self.life_ends, LIFE_ENDS),
            (self.failed_since, FAILED_SINCE),
            (self.worked_on, WORKED_ON),
            (self.unknown_ages, UNKNOWN_AGES),
        ):
            if choice not in table:
                raise ValueError(f"no observation rule {choice!r}; known are {', '.join(table)}")

    @property
    def failed(self) -> str:
        """What has become of a part whose life has ended, in words."""
        return ENDED_WORDS[self.life_ends]

    def sentence(self) -> str:
        """The rule as printed with a curve; what most rules share is said where it differs."""
        said = f"watched from: {self.starts}; until: {self.ends}; a life ends at: {self.life_ends}"
        for words, choice, usual in (
            ("failed since", self.failed_since, "the day it was found"),
            ("renewed early, taken to have worked", self.worked_on, "until renewed"),
            ("of unknown age", self.unknown_ages, "left out"),
        ):
            said += f"; {words}: {choice}" if choice != usual else ""
        return said


WORKSHOP = ObservationRule("first seen as original", "last visit", "failure or degraded finding")
"""The default for a workshop that notes at the first visit which parts are original."""

OPERATOR = ObservationRule("first visit, taken as original", "last visit", "failure")
"""The default for one who owned the vehicles: what was there at the first visit was original."""

FROM_NEW = ObservationRule("from new", "last visit", "failure")
"""For machines that were watched from the day they were new."""

NAIVE = {
    "naive: from new to the last visit": ObservationRule(
        "from new", "last visit", "failure or degraded finding"
    ),
    "naive: from new to the close of records": ObservationRule(
        "from new", "close of records", "any renewal"
    ),
}
"""As if all had been watched from new; the last as if to today, every renewal a failure."""

VARIANTS: dict[str, dict[str, str]] = {
    "failure only": {"life_ends": "failure"},
    "unexplained renewals count": {"life_ends": "any renewal for cause or unexplained"},
    "every renewal counts": {"life_ends": "any renewal"},
    "early renewals had gone on": {"worked_on": "to the end of the watch"},
    "failed since the routine visit before": {
        "failed_since": "the routine visit before, where found in the routine"
    },
    "first visit, taken as original": {"starts": "first visit, taken as original"},
    "to the last visit": {"ends": "last visit"},
    "a year past the last visit": {"ends": "a year after the last visit"},
    "to the close where still coming": {"ends": "close of records where seen within a year of it"},
    "to the close of records": {"ends": "close of records"},
}
"""What a sensitivity table changes in a rule, one thing at a time."""

UNKNOWN_AGE_VARIANTS: dict[str, dict[str, str]] = {
    "unknown ages: young": {"unknown_ages": "fitted when first seen"},
    "unknown ages: old": {"unknown_ages": "fitted as early as can be"},
}
"""Bounds for curves of renewed parts; original parts have no unknown age."""


def variants_of(
    rule: ObservationRule, changes: dict[str, dict[str, str]] = VARIANTS
) -> dict[str, ObservationRule]:
    """The rules that differ from this one in one choice, then the naive ones.

    >>> list(variants_of(WORKSHOP))[:2]
    ['failure only', 'unexplained renewals count']
    """
    changed = {name: replace(rule, **change) for name, change in changes.items()}
    return {name: other for name, other in {**changed, **NAIVE}.items() if other != rule}


RULES = {"workshop": WORKSHOP, **variants_of(WORKSHOP)}
"""Every rule by its name, the naive ones last."""


def rule_named(name: str) -> ObservationRule:
    """The rule of this name, as workshop.toml may ask for it."""
    named = {**RULES, "operator": OPERATOR, "from new": FROM_NEW}
    if name not in named:
        raise RecordError(
            f"workshop.toml: observation_rule = {name!r}; known are {', '.join(named)}"
        )
    return named[name]
