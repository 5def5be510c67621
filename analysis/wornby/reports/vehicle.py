"""One vehicle and what is known of its parts, told by its owner or by the records."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

import polars as pl

from wornby.decisions.book import parts_of, vehicle_of_records
from wornby.decisions.vehicle_parts import DEGRADED, RUNNING, SOUND
from wornby.records.catalogue import Catalogue, Component
from wornby.records.conventions import PER_MILE
from wornby.records.privacy import pseudonyms
from wornby.reports.ramp import MOST_A_YEAR, OLDEST_YEARS
from wornby.reports.workshop import Workshop, pace_of
from wornby.reports.yearly_pace import Pace

ORIGINAL, RENEWED, UNKNOWN = "original", "renewed", "unknown"


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of one part: its origin, its age where it is known, and its condition."""

    origin: str = UNKNOWN
    grade: str = UNKNOWN
    age_years: float | None = None
    condition: str = RUNNING


@dataclass(frozen=True, eq=False, slots=True)
class Vehicle:
    """A vehicle of an age and a pace; `parts` says what is known, by component and place.

    A part not named is of unknown age: it may have been renewed at any time since
    `first_seen_years`, the vehicle's age when whoever tells of it first saw it (None: nobody
    did, and it may have been renewed until now).
    """

    age_years: float
    pace: Pace
    horizon_years: float
    parts: Mapping[tuple[str, str], Known] = field(default_factory=dict)
    first_seen_years: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no vehicle can be."""
        for what, value, least, most in (
            ("age", self.age_years, 0.0, OLDEST_YEARS),
            (f"{self.pace.unit} a year", self.pace.per_year, 0.0, MOST_A_YEAR),
            ("horizon in years", self.horizon_years, 0.01, OLDEST_YEARS),
            *(
                (f"years since {name} was renewed", known.age_years or 0.0, 0.0, self.age_years)
                for (name, _), known in self.parts.items()
            ),
        ):
            if not least <= value <= most:
                raise ValueError(f"{what} {value:g}: wanted from {least:g} to {most:g}")

    def known(self, component: str, position: str) -> Known:
        """What is known of one place."""
        return self.parts.get((component, position), Known())

    def sentence(self) -> str:
        """The vehicle in words."""
        return (
            f"A vehicle of {self.age_years:.3g} years that does {self.pace}, kept for "
            f"{self.horizon_years:g} more years."
        )


def vehicle_asked_about(
    workshop: Workshop,
    *,
    age_years: float | None,
    odometer: float | None,
    registration: str | None,
    horizon_years: float,
) -> Vehicle:
    """A vehicle by its age and odometer, or one that the records know by its registration.

    The odometer shows miles or kilometres, as workshop.toml has distances.
    """
    if registration is None:
        if age_years is None:
            raise ValueError("vehicle: no age in years and no registration, wanted one of them")
        return stranger(
            age_years=age_years,
            odometer=odometer,
            pace=pace_of(workshop),
            horizon_years=horizon_years,
        )
    if age_years is not None or odometer is not None:
        raise ValueError(
            "vehicle: age and odometer are known of a registration, wanted one of them"
        )
    return vehicle_in_records(workshop, registration, horizon_years=horizon_years)


def stranger(
    *, age_years: float, odometer: float | None, pace: Pace, horizon_years: float
) -> Vehicle:
    """A vehicle that the records do not know; without an odometer it goes at the usual pace."""
    if not 0 <= age_years <= OLDEST_YEARS:
        raise ValueError(f"age {age_years:g}: wanted from 0 to {OLDEST_YEARS:g}")
    if odometer is not None and not 0 <= odometer <= OLDEST_YEARS * MOST_A_YEAR:
        raise ValueError(f"odometer {odometer:g}: wanted {pace.unit} from 0 up")
    if odometer and age_years > 0:
        pace = Pace(odometer / PER_MILE[pace.unit] / age_years, pace.unit)
    return Vehicle(age_years, pace, horizon_years)


def vehicle_in_records(workshop: Workshop, registration: str, *, horizon_years: float) -> Vehicle:
    """A vehicle that the records know, by registration or pseudonym, as of their close.

    Neither is ever printed.
    """
    records = workshop.records
    plain = "".join(c for c in registration.upper() if c.isalnum())
    key = records.catalogue.pseudonym_key
    by_plate = pseudonyms(pl.Series([plain]), key=key)["pseudonym"][0]
    listed = set(records.vehicles["vehicle"])
    vehicle = registration.strip().lower() if registration.strip().lower() in listed else by_plate
    row = vehicle_of_records(records, vehicle)
    told = row.row(0, named=True)
    parts = parts_of(row, records, workshop.histories)
    first = parts["first_seen_years"][0] if parts.height else None
    return Vehicle(
        age_years=told["age_years"],
        pace=Pace(max(told["miles_per_year"], 1.0), records.catalogue.distances_in),
        horizon_years=horizon_years,
        parts=_from_history(workshop, vehicle, parts),
        first_seen_years=first,
    )


def _from_history(
    workshop: Workshop, vehicle: str, parts: pl.DataFrame
) -> dict[tuple[str, str], Known]:
    """What the history tells of each place; degraded if that was the last thing seen of it."""
    degraded = _last_seen_degraded(workshop, vehicle)
    told = {}
    for row in parts.iter_rows(named=True):
        place = (row["component"], row["position"])
        age = row["age_years"]
        if workshop.catalogue.component(row["component"]).scale == "distance" and age is not None:
            age = min(
                row["distance_mi"] / max(row["miles_per_year"], 1.0), row["vehicle_age_years"]
            )
        told[place] = Known(
            origin=row["origin"],
            grade=row["grade"],
            age_years=age,
            condition=DEGRADED if place in degraded else RUNNING,
        )
    return told


def _last_seen_degraded(workshop: Workshop, vehicle: str) -> set[tuple[str, str]]:
    seen = workshop.records.sightings.filter(
        (pl.col("vehicle") == vehicle) & pl.col("position").is_not_null()
    )
    last = seen.sort("date", pl.col("seen") == "renewed").group_by("component", "position").last()
    return set(last.filter(seen="degraded").select("component", "position").iter_rows())


def told_of(
    vehicle: Vehicle,
    catalogue: Catalogue,
    *,
    renewed: Mapping[str, float],
    original: Collection[str] = (),
    degraded: Collection[str] = (),
    sound: Collection[str] = (),
) -> Vehicle:
    """The vehicle with what its owner says of parts, which goes before what the records say.

    A name is that of a component, for all its places, or of one place: "coolant transfer
    pipe, left".
    """
    if both := sorted({*degraded} & {*sound}):
        raise ValueError(f"{both[0]}: named degraded and sound, wanted one of them")
    parts = dict(vehicle.parts)

    def note(name: str, **facts: object) -> None:
        for place in places_named(catalogue, name):
            parts[place] = replace(parts.get(place, Known()), **facts)  # type: ignore[arg-type]  # facts are Known's own fields

    for name in sorted(original):
        note(name, origin=ORIGINAL, grade="genuine", age_years=vehicle.age_years)
    for name, years in renewed.items():
        note(name, origin=RENEWED, grade=UNKNOWN, age_years=years)
    for names, condition in ((degraded, DEGRADED), (sound, SOUND)):
        for name in sorted(names):
            note(name, condition=condition)
    return replace(vehicle, parts=parts)


def places_named(catalogue: Catalogue, name: str) -> list[tuple[str, str]]:
    """The places that a name stands for; an unknown one is the caller's mistake."""
    whole, _, place = (word.strip() for word in name.partition(","))
    component = catalogue.component(whole)
    if place and place not in component.positions:
        known = ", ".join(component.positions) or "none"
        raise ValueError(f"{whole}: no place {place!r}; there are {known}")
    return [(whole, p) for p in ([place] if place else component.positions or ("",))]


def gathered(names: Sequence[str]) -> list[str]:
    """Labels in which several places of one component are one entry.

    >>> gathered(["pipe, left", "pipe, right", "pump"])
    ['pipe (left and right)', 'pump']
    """
    places: dict[str, list[str]] = {}
    for name in names:
        whole, _, place = name.partition(", ")
        places.setdefault(whole, []).append(place)
    return [
        f"{whole} ({' and '.join(found)})" if all(found) else whole
        for whole, found in places.items()
    ]


def label(component: Component, position: str) -> str:
    """A place in words: the component, and which of several."""
    return f"{component.name}, {position}" if position else component.name
