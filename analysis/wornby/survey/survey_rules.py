"""Survey rules: what an answer is taken to say of a part's life, each choice with a name.

A rule is one name from each table below. Adding a choice is adding a line; it is printed with
every curve made under it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace

LIFE_ENDS = {
    "any renewal counts": ("failure", "precaution", "unknown"),
    "all renewals but precautions": ("failure", "unknown"),
    "only those said to have failed": ("failure",),
}
"""Reasons for a renewal that end a life; for the others the part worked until it was renewed.

A survey rarely asks for the reason. Where it does not, the first is all that can be known, and
the life is one until renewal, not until failure.
"""

DATED = {
    "the first renewal": False,
    "the latest renewal": True,
}
"""Of which renewal one date is, where an answer may tell of several ("once or more").

By the second the date says nothing of the original part but that it was renewed before the
answer, and only that is used; the same goes for "before I had it". To take the latest date as
an upper bound would not do: a bound that follows the renewal about is none that was there
before it, and makes lives short.
Where the answer or the form says that there was one renewal, or the dates of all are given, the
first one's is used by both.
"""

WATCHED_FROM = {
    "from new": False,
    "from when bought": True,
}
"""Since when an owner's word is taken.

By the first, "before I had it" says that the life ended before the vehicle was bought, where
it is said of the first renewal. By the second a part is at risk only from then, and what was
renewed before is left out.
"""

MODEL_YEARS = {
    "within the model year": (0, 0),
    "from four months before to a year after": (-4, 12),
}
"""Months by which first registration may lie before and after the model year's calendar year."""

ONE_SIDED = {
    "at the middle of what the age may be": 0.5,
    "at the end of what the age may be": 0.0,
}
"""At what age a part still original was last known to work, or one renewed at a time unknown had
been renewed, where only the year of registration is known.

The second is what can be sworn to, and says less than is known of every vehicle, in the one
direction: a year's cars are then all taken as registered on its last day, or on its first.
"""

ABOUT = {
    "a year either way": {"day": 1, "month": 3, "season": 3, "year": 12, "range": 12,
                          "distance": 0.10},
    "two years either way": {"day": 3, "month": 6, "season": 12, "year": 24, "range": 24,
                             "distance": 0.20},
}  # fmt: skip
"""How far "about" reaches either way: months by what was named, and a share of a distance."""

RECALL = {
    "as told": 0,
    "a year either way": 12,
}
"""By how many months memory may be wrong where nobody said "about"; distances are as told."""

PACES = {
    "even pace, give or take a quarter": 0.25,
    "even pace": 0.0,
}
"""How far the share of its distance that a vehicle had covered may differ from that of its age.

Needed where a part wears by distance and a date is told, or the other way round; by a quarter
is common practice, no source.
"""


@dataclass(frozen=True, slots=True)
class SurveyRule:
    """How answers become lives: one choice from each table of this module."""

    life_ends: str
    dated: str
    watched_from: str
    model_years: str
    one_sided: str
    about: str
    recall: str
    paces: str

    def __post_init__(self) -> None:
        """Refuse a choice that has no line in its table."""
        for name, table in TABLES.items():
            if getattr(self, name) not in table:
                raise ValueError(
                    f"no survey rule {name} = {getattr(self, name)!r}; known are {', '.join(table)}"
                )
        if WATCHED_FROM[self.watched_from] and DATED[self.dated]:
            raise ValueError(
                f"watched {self.watched_from!r} with the date of {self.dated!r}: whether the first "
                "renewal came before the vehicle was bought is then not known"
            )

    def sentence(self) -> str:
        """The rule as printed with a curve: what ends a life, then the rest by name."""
        rest = {f.name: getattr(self, f.name) for f in fields(self) if f.name in SAID}
        told = "; ".join(f"{SAID[name]} {choice}" for name, choice in rest.items())
        return f"{self.life_ends}; {told}"


TABLES: Mapping[str, Iterable[str]] = {
    "life_ends": LIFE_ENDS,
    "dated": DATED,
    "watched_from": WATCHED_FROM,
    "model_years": MODEL_YEARS,
    "one_sided": ONE_SIDED,
    "about": ABOUT,
    "recall": RECALL,
    "paces": PACES,
}
SAID = {
    "dated": "a single date is taken as that of",
    "watched_from": "owners' word is taken",
    "model_years": "vehicles were first registered",
    "one_sided": "where only the year of that is known, an age stands",
    "about": '"about" reaches',
    "recall": "other dates are taken",
    "paces": "dates and distances are turned into each other by",
}

CLUB = SurveyRule(
    life_ends="any renewal counts",
    dated="the latest renewal",
    watched_from="from new",
    model_years="within the model year",
    one_sided="at the middle of what the age may be",
    about="a year either way",
    recall="as told",
    paces="even pace, give or take a quarter",
)
"""The default for a club's survey that does not ask why, nor whether it was the first time."""

CHANGES: dict[str, dict[str, str]] = {
    "the date is the first renewal's": {"dated": "the first renewal"},
    "the date is the latest renewal's": {
        "dated": "the latest renewal",
        "watched_from": "from new",
    },
    "renewals as a precaution do not count": {"life_ends": "all renewals but precautions"},
    "only those said to have failed count": {"life_ends": "only those said to have failed"},
    "watched from when bought, first renewals": {
        "watched_from": "from when bought",
        "dated": "the first renewal",
    },
    "registered outside the model year": {"model_years": "from four months before to a year after"},
    "ages that can be sworn to": {"one_sided": "at the end of what the age may be"},
    "all dates a year either way": {"recall": "a year either way"},
}
"""What a sensitivity table changes in a rule, one thing at a time as far as that can be."""


def survey_variants(rule: SurveyRule) -> dict[str, SurveyRule]:
    """The rules that differ from this one in one choice.

    >>> list(survey_variants(CLUB))[:2]
    ["the date is the first renewal's", 'renewals as a precaution do not count']
    """
    changed = {name: replace(rule, **change) for name, change in CHANGES.items()}
    return {name: other for name, other in changed.items() if other != rule}
