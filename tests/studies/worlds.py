"""Eight worlds in which a workshop may have kept its records, from benign to hostile.

Every world has 300 vans unless the study is told otherwise, and a faultless clerk: what differs
is who was watched and what could be seen. All parameters are of `wornby.demo.WorldParameters`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from wornby.demo.parameters import TRUE_LIVES, TrueLife, WorldParameters

ASSUMPTIONS = {
    "entry": "what brings a van in for the first time says nothing of the parts that work that day",
    "exit": "who stays away does so whatever the state of the parts",
    "seen": "a failure brings the van in within days",
    "early": "what is renewed early is chosen by age or distance alone",
    "curve": "lives are Weibull on the component's own scale and alike in all vehicles",
}
"""What the default rule and a Weibull curve take for granted."""


@dataclass(frozen=True, slots=True)
class Hostility:
    """A world by its name: what is changed in the parameters, which assumptions that breaks."""

    name: str
    what: str
    breaks: tuple[str, ...]
    changes: Mapping[str, Any]

    @property
    def meets_assumptions(self) -> bool:
        """Whether the default rule should be right in it."""
        return not self.breaks

    def parameters(self, n_vehicles: int) -> WorldParameters:
        """The parameters of the world."""
        calm = replace(WorldParameters().without_dirt(), **CALM)
        return replace(calm, n_vehicles=n_vehicles, **self.changes)


CALM: Mapping[str, Any] = MappingProxyType(
    {
        "first_age_years": 0.0,
        "last_age_years": 8.0,
        "arrives_with_failure": 0.0,
        "lost_after_visit": 0.04,
        "precaution": 0.10,
        "precaution_not_explained": 0.0,
    }
)
"""Where every world starts from: vans come young, by the calendar; few are lost."""

MIXED_LIVES = {
    **TRUE_LIVES,
    "clutch slave cylinder": TrueLife(2.6, 30.0, added_by_other=1 / 8_000),
    "heater matrix": TrueLife(3.8, 26.0, added_by_other=1 / 16_000),
    "gear linkage bush": TrueLife(2.2, 24.0, added_by_other=1 / 24_000),
    "belt tensioner": TrueLife(2.8, 200_000.0, added_by_other=4_000.0),
}

WORLDS = (
    Hostility(
        "benign",
        "vans come young and by the calendar, few are lost, little is renewed early",
        (),
        {},
    ),
    Hostility(
        "late and by failure",
        "vans come at 4 to 16 years, half of them because something failed",
        (),
        {"first_age_years": 4.0, "last_age_years": 16.0, "arrives_with_failure": 0.5},
    ),
    Hostility(
        "loyal few",
        "one owner in six stays away after each visit, for no reason of the van's",
        (),
        {"lost_after_visit": 0.17},
    ),
    Hostility(
        "early precaution at random",
        "most of what an open job reaches is renewed early, by its age or distance alone",
        (),
        {"precaution": 0.8, "precaution_from_share_of_scale": (0.2, 0.5)},
    ),
    Hostility(
        "worn ones renewed early",
        "at services half of what would fail soon is renewed, and written down as a precaution",
        ("early",),
        {"precaution_of_worn": 0.5, "worn_shows_years": 2.0},
    ),
    Hostility(
        "leave after a big bill",
        "a dear failure sends three owners in ten elsewhere unseen, and as many after paying",
        ("exit",),
        {"given_up_at_big_bill": 0.3, "lost_after_big_bill": 0.3},
    ),
    Hostility(
        "quiet failures found at service",
        "services every other year, and half of the failures go unnoticed until the next",
        ("seen",),
        {
            "years_between_services": 2.0,
            "sd_years_between_services": 0.25,
            "quiet_failures": 0.5,
        },
    ),
    Hostility(
        "mixed wear and unlike vehicles",
        "parts wear by age and distance together, and some vans are harder on them than others",
        ("curve",),
        {"lives": MIXED_LIVES, "frailty_variance": 0.5},
    ),
)
