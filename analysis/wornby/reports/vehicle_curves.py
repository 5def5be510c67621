"""From what is known of a vehicle's parts to the paths on which its sheet is priced."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wornby.curves.delay_times import DelayTime
from wornby.curves.uncertainty import WeibullDraws
from wornby.decisions.stated_costs import access_of, money_of, part_costs
from wornby.decisions.unknown_ages import mean_survival, with_ages
from wornby.decisions.vehicle_parts import DEGRADED, RUNNING, VehiclePart, worn_alike
from wornby.decisions.vehicle_plans import VehicleSheet, vehicle_sheet
from wornby.errors import EstimateError, RecordError
from wornby.records.catalogue import Component
from wornby.reports.delays import delay_of
from wornby.reports.vehicle import ORIGINAL, RENEWED, Known, Vehicle, label
from wornby.reports.wear import places_alike
from wornby.reports.workshop import RENEWAL_GRADE, Workshop, life_in_years
from wornby.reports.yearly_pace import Pace

N_PATHS = 2000
NO_DELAY = "{name}: {condition}, but {why}; priced as a running part of its age"


@dataclass(frozen=True, eq=False, slots=True)
class VehicleTold:
    """A vehicle's sheet, the component of each part, and what could not be priced, with why.

    `must_go` names degraded safety parts, those without a curve among them.
    """

    vehicle: Vehicle
    sheet: VehicleSheet
    components: tuple[Component, ...]
    left_out: dict[str, str]
    must_go: tuple[str, ...]
    notes: tuple[str, ...]

    def known(self, n: int) -> Known:
        """What is known of the nth part of the sheet."""
        return self.vehicle.known(
            self.components[n].name, self.sheet.parts[n].name.partition(", ")[2]
        )


@dataclass(frozen=True, eq=False, slots=True)
class _Lives:
    """Draws of a component's original, of a renewed part of any grade, and of one fitted now."""

    original: WeibullDraws | None
    renewed: WeibullDraws | None
    new: WeibullDraws
    notes: tuple[str, ...]


def sheet_of(workshop: Workshop, vehicle: Vehicle) -> VehicleTold:
    """Price the vehicle's parts; a component without a curve is left out and named."""
    catalogue, rng = workshop.catalogue, workshop.rng("vehicle")
    rate = money_of(catalogue).labour_price_per_hour
    parts, components, must_go = [], [], []
    left_out: dict[str, str] = {}
    notes: dict[str, None] = {}
    for component in catalogue.components.values():
        made, said, missing = _places(workshop, vehicle, component, rng=rng)
        parts += made
        components += [component] * len(made)
        left_out |= missing
        notes |= dict.fromkeys(said)
        must_go += [
            label(component, place)
            for place in component.positions or ("",)
            if component.safety and vehicle.known(component.name, place).condition == DEGRADED
        ]
    if not parts:
        raise EstimateError(f"no component has a curve: {'; '.join(left_out.values())}")
    sheet = vehicle_sheet(
        parts,
        horizon_years=vehicle.horizon_years,
        labour_price_per_hour=rate,
        rng=rng,
    )
    return VehicleTold(vehicle, sheet, tuple(components), left_out, tuple(must_go), tuple(notes))


def _places(
    workshop: Workshop, vehicle: Vehicle, component: Component, *, rng: np.random.Generator
) -> tuple[list[VehiclePart], list[str], dict[str, str]]:
    """A component's places, which may wear alike, what must be said, and what is left out."""
    delay = _delay(workshop, vehicle, component)
    parts, said, left_out = [], [], {}
    for position in component.positions or ("",):
        try:
            part, notes = _part(
                workshop, vehicle, component, position=position, delay=delay, rng=rng
            )
        except (EstimateError, RecordError) as error:
            left_out[label(component, position)] = str(error)
            continue
        parts.append(part)
        said += notes
    alike = places_alike(workshop, component) if len(parts) > 1 else None
    if alike is not None:
        variance = rng.choice(alike.variance, size=N_PATHS)
        parts, said = worn_alike(parts, variance, rng), [*said, alike.plainly]
    return parts, said, left_out


def _part(
    workshop: Workshop,
    vehicle: Vehicle,
    component: Component,
    *,
    position: str,
    delay: DelayTime | str,
    rng: np.random.Generator,
) -> tuple[VehiclePart, list[str]]:
    """One place as a part with its paths, and what must be said of it."""
    known, name = vehicle.known(component.name, position), label(component, position)
    lives = _lives(workshop, component, known, vehicle.pace)
    life, age = _in_place(vehicle, known, lives, rng)
    looked = known.condition != RUNNING
    mean, detection, notes = None, 0.0, list(lives.notes)
    if looked and isinstance(delay, str):
        notes.append(
            NO_DELAY.format(
                name=name, condition=known.condition, why=delay.removeprefix(f"{component.name}: ")
            )
        )
    elif looked and not isinstance(delay, str):
        mean, detection = rng.choice(delay.mean_years, size=N_PATHS), delay.detection
    costs = part_costs(workshop.catalogue, component.name, grade=RENEWAL_GRADE)
    part = VehiclePart(
        costs=replace(costs, component=name),
        group=access_of(workshop.catalogue, component),
        age_years=age,
        life=life,
        renewed_life=lives.new,
        condition=known.condition,
        delay_years=mean,
        detection=detection,
    )
    return part, notes


def _lives(workshop: Workshop, component: Component, known: Known, pace: Pace) -> _Lives:
    """The curves that the part in place may live on, and that of a new one."""

    def drawn(origin: str, grade: str) -> tuple[WeibullDraws, str]:
        return life_in_years(workshop, component, origin=origin, grade=grade, pace=pace)

    new, said = drawn("renewed", RENEWAL_GRADE)
    notes = [said] if said else []
    original = (
        None
        if known.origin == RENEWED and known.age_years is not None
        else drawn("original", "")[0]
    )
    renewed = None
    if known.origin != ORIGINAL:
        renewed, said = drawn("renewed", known.grade)
        notes += [said] if said else []
    return _Lives(original, renewed, new, tuple(notes))


def _in_place(
    vehicle: Vehicle, known: Known, lives: _Lives, rng: np.random.Generator
) -> tuple[WeibullDraws, NDArray[np.float64]]:
    """A curve and an age for each path; an unknown age is drawn with the origin."""
    if known.age_years is not None:
        life = (lives.original if known.origin == ORIGINAL else lives.renewed) or lives.new
        age = np.full(N_PATHS, known.age_years)
        return _still_running(_picked(life, rng), age, np.zeros(N_PATHS), rng)
    first = vehicle.age_years if vehicle.first_seen_years is None else vehicle.first_seen_years
    original, renewed = lives.original or lives.new, lives.renewed or lives.new
    is_original, age = with_ages(
        original,
        vehicle_now=np.full(N_PATHS, max(vehicle.age_years, 1e-6)),
        vehicle_at_first=np.full(N_PATHS, max(first, 1e-6)),
        surely_renewed=np.full(N_PATHS, known.origin == RENEWED),
        rng=rng,
        renewed_life=renewed,
    )
    ours, theirs = _picked(original, rng), _picked(renewed, rng)
    shape = np.where(is_original, ours.shape, theirs.shape)
    life = WeibullDraws(shape, np.where(is_original, ours.scale, theirs.scale), "years")
    counted = np.where(
        is_original,
        (age / np.median(original.scale)) ** np.median(original.shape),
        -np.log(np.maximum(mean_survival(renewed, age), 1e-300)),
    )
    return _still_running(life, age, counted, rng)


def _still_running(
    life: WeibullDraws,
    age: NDArray[np.float64],
    counted: NDArray[np.float64],
    rng: np.random.Generator,
) -> tuple[WeibullDraws, NDArray[np.float64]]:
    """Paths resampled by how well they allow the part to run still.

    `counted` is the hazard whose survival the ages have been weighted by already.
    """
    log_weight = counted - (age / life.scale) ** life.shape
    weight = np.exp(log_weight - log_weight.max())
    kept = rng.choice(N_PATHS, size=N_PATHS, p=weight / weight.sum())
    return WeibullDraws(life.shape[kept], life.scale[kept], life.unit), age[kept]


def _picked(draws: WeibullDraws, rng: np.random.Generator) -> WeibullDraws:
    pick = rng.integers(draws.shape.size, size=N_PATHS)
    return WeibullDraws(draws.shape[pick], draws.scale[pick], draws.unit)


def _delay(workshop: Workshop, vehicle: Vehicle, component: Component) -> DelayTime | str:
    """The component's delay, or why it is not known; fitted only if a look has found something."""
    places = component.positions or ("",)
    if all(vehicle.known(component.name, place).condition == RUNNING for place in places):
        return "not asked for"
    try:
        return delay_of(workshop, component)
    except (EstimateError, RecordError) as error:
        return str(error)
