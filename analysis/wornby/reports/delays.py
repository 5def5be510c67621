"""How long a component shows before it fails, from the looks that a workshop's records hold."""

from wornby.curves.delay_times import DelayTime, delay_time
from wornby.errors import EstimateError, RecordError
from wornby.histories.look_days import looked_at
from wornby.records.catalogue import Catalogue, Component, Look
from wornby.reports.workshop import Workshop

N_DELAYS = 1000


def looks_of(catalogue: Catalogue) -> dict[str, Look]:
    """The ways of looking that workshop.toml states; advice on looks cannot do without."""
    if not catalogue.looks:
        raise RecordError(
            "workshop.toml: no [[look]]; say of each way of looking its minutes and what it sees"
        )
    return dict(catalogue.looks)


def service_look(catalogue: Catalogue) -> Look:
    """The look that each routine visit makes."""
    for look in looks_of(catalogue).values():
        if look.at_service:
            return look
    raise RecordError(
        "workshop.toml: no [[look]] has at_service = true; mark the one services make"
    )


def seen_by(look: Look, component: Component) -> float:
    """The chance that the look sees a defect of the component, the mean over its places."""
    places = component.positions or ("",)
    return sum(look.chance(component.name, place) for place in places) / len(places)


def delay_of(workshop: Workshop, component: Component) -> DelayTime:
    """The component's delay time, from its degraded findings and failures at and between looks."""
    look = service_look(workshop.catalogue)
    detection = seen_by(look, component)
    if detection == 0:
        raise EstimateError(
            f"{component.name}: not seen {look.name}, which is how services look: no delay known"
        )
    return delay_time(
        looked_at(workshop.records, workshop.episodes, component.name),
        detection=detection,
        what=component.name,
        n=N_DELAYS,
        rng=workshop.rng(f"{component.name} delay"),
    )
