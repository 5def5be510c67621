"""Observation rules: what it means to have watched a part, each choice with a name.

A rule is three names, one from each table below. Adding a choice is adding a line; it is
printed with every curve made under it.
"""

from dataclasses import dataclass

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

What a look calls renewed is not taken as original by any rule but the naive one.
"""

STILL_COMING_MONTHS = 12
ENDS = {
    "last visit": pl.col("last_visit"),
    "close of records where seen within a year of it": pl.when(
        pl.col("last_visit") >= pl.col("closed_on").dt.offset_by(f"-{STILL_COMING_MONTHS}mo")
    )
    .then(pl.col("closed_on"))
    .otherwise(pl.col("last_visit")),
    "close of records": pl.col("closed_on"),
}
"""When the watch of a fitment still in service ends."""

LIFE_ENDS = {
    "failure": ("failure",),
    "failure or degraded finding": ("failure", "degraded finding"),
    "any renewal for cause or unexplained": ("failure", "degraded finding", "renewal unexplained"),
    "any renewal": ("failure", "degraded finding", "renewal unexplained", "preventive renewal"),
}
"""Which endings end a life; under the others the part was still working when watching stopped."""


ENDED_WORDS = {
    "failure": "failed",
    "failure or degraded finding": "failed or been renewed as degraded",
    "any renewal for cause or unexplained": "failed or been renewed for any reason but precaution",
    "any renewal": "been renewed",
}


@dataclass(frozen=True, slots=True)
class ObservationRule:
    """How histories become episodes: when watching starts and ends, and what ends a life."""

    starts: str
    ends: str
    life_ends: str

    def __post_init__(self) -> None:
        """Refuse a choice that has no line in its table."""
        for choice, table in (
            (self.starts, STARTS),
            (self.ends, ENDS),
            (self.life_ends, LIFE_ENDS),
        ):
            if choice not in table:
                raise ValueError(f"no observation rule {choice!r}; known are {', '.join(table)}")

    @property
    def failed(self) -> str:
        """What has become of a part whose life has ended, in words."""
        return ENDED_WORDS[self.life_ends]

    def sentence(self) -> str:
        """The rule as printed with a curve."""
        return f"watched from: {self.starts}; until: {self.ends}; a life ends at: {self.life_ends}"


WORKSHOP = ObservationRule("first seen as original", "last visit", "failure or degraded finding")
"""The default for a workshop that notes at the first visit which parts are original."""

OPERATOR = ObservationRule("first visit, taken as original", "last visit", "failure")
"""The default for one who owned the vehicles: what was there at the first visit was original."""

FROM_NEW = ObservationRule("from new", "last visit", "failure")
"""For machines that were watched from the day they were new."""

NAIVE = ObservationRule("from new", "close of records", "any renewal")
"""As if every vehicle had been watched from new to today and every renewal were a failure."""

RULES = {
    "workshop": WORKSHOP,
    "failure only": ObservationRule("first seen as original", "last visit", "failure"),
    "unexplained renewals count": ObservationRule(
        "first seen as original", "last visit", "any renewal for cause or unexplained"
    ),
    "first visit, taken as original": ObservationRule(
        "first visit, taken as original", "last visit", "failure or degraded finding"
    ),
    "to the close where still coming": ObservationRule(
        "first seen as original",
        "close of records where seen within a year of it",
        "failure or degraded finding",
    ),
    "watched to the close of records": ObservationRule(
        "first seen as original", "close of records", "failure or degraded finding"
    ),
    "naive: from new to the close of records": NAIVE,
}
"""The rules a sensitivity table goes through, the naive one last."""


def rule_named(name: str) -> ObservationRule:
    """The rule of this name, as workshop.toml may ask for it."""
    named = {**RULES, "operator": OPERATOR, "from new": FROM_NEW}
    if name not in named:
        raise RecordError(
            f"workshop.toml: observation_rule = {name!r}; known are {', '.join(named)}"
        )
    return named[name]
