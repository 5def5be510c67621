"""What a vehicle's letter rests on: what is known of the parts, and whose records tell the rest."""

from wornby.decisions.vehicle_parts import DEGRADED, SOUND
from wornby.records.catalogue import Catalogue
from wornby.records.conventions import month_text
from wornby.reports.vehicle import ORIGINAL, RENEWED, Known, Vehicle, gathered, label


def known_sentences(vehicle: Vehicle, catalogue: Catalogue) -> str:
    """What was found and told of the vehicle's parts, and how many are of unknown age."""
    places = [
        (label(component, place), vehicle.known(component.name, place))
        for component in catalogue.components.values()
        for place in component.positions or ("",)
    ]
    told: dict[str, list[str]] = {}
    for what in (_found_degraded, _renewed, _original, _found_sound):
        for name, known in places:
            if said := what(known):
                told.setdefault(said, []).append(name)
    facts = [f"{said}: {', '.join(gathered(names))}." for said, names in told.items()]
    unknown = sum(known.age_years is None for _, known in places)
    return " ".join((*facts, _of_unknown_age(unknown, len(places))))


def source_sentence(catalogue: Catalogue) -> str:
    """Whose records the chances and prices come from, and when they end."""
    ends = month_text(catalogue.records_until, catalogue.date_format)
    return (
        f"Chances and prices are told by the records of {catalogue.name}, which end in {ends}. "
        f"{catalogue.note}"
    ).strip()


def _found_degraded(known: Known) -> str:
    return "Found degraded" if known.condition == DEGRADED else ""


def _found_sound(known: Known) -> str:
    return "Found sound" if known.condition == SOUND else ""


def _original(known: Known) -> str:
    return "Original" if known.origin == ORIGINAL else ""


def _renewed(known: Known) -> str:
    if known.origin != RENEWED:
        return ""
    if known.age_years is None:
        return "Renewed, nobody knows when"
    years = f"{known.age_years:.3g}"
    return f"Renewed {years} {'year' if years == '1' else 'years'} ago"


def _of_unknown_age(unknown: int, n: int) -> str:
    """How many of the parts are of unknown age.

    >>> _of_unknown_age(1, 16)
    'Of its 16 parts, each place counted, 1 is of unknown age and may have been renewed before.'
    """
    parts = "part" if n == 1 else f"{n} parts, each place counted"
    if unknown == 0:
        return f"Of its {parts}, none is of unknown age."
    many = "is" if unknown == 1 else "are"
    count = "all" if unknown == n > 1 else f"{unknown}"
    return f"Of its {parts}, {count} {many} of unknown age and may have been renewed before."
