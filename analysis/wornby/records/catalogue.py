"""workshop.toml: what the workshop calls its parts and work, and what they cost."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from wornby.records.conventions import DATES_UNSAID, DISTANCES_UNSAID, PER_MILE

GRADES = ("genuine", "original-equipment", "aftermarket", "used", "reconditioned")
SCALES = ("age", "distance")
CAUTIONS = ("hot coolant", "raised vehicle", "brakes", "steering", "fuel", "restraint")
"""What a component may warn of; `reports.sentences` has the words."""
ENGINE_STATES = ("", "cold", "hot")


@dataclass(frozen=True, slots=True)
class Component:
    """A kind of part: how text names it, where it sits, what it costs.

    What is not stated in money stays `None`: a curve needs none of it, a decision asks for it.
    `caution` names one of `CAUTIONS`, or several between commas. `shared_wear` says how alike its
    places on one vehicle wear: Kendall's tau of their lives, from 0 (not at all) to below 1;
    None: as the records tell.
    """

    name: str
    words: tuple[str, ...]
    scale: str = "age"
    access_group: str | None = None
    own_hours: float | None = None
    part_price_net: Mapping[str, float] = field(default_factory=dict)
    part_cost_net: Mapping[str, float] = field(default_factory=dict)
    failure_consequence_net: float | None = None
    safety: bool = False
    not_words: tuple[str, ...] = ()
    part_codes: tuple[str, ...] = ()
    positions: tuple[str, ...] = ()
    follow_on: tuple[str, ...] = ()
    companion_parts: tuple[str, ...] = ()
    caution: str = ""
    look_for: str = ""
    shared_wear: float | None = None

    @property
    def cautions(self) -> tuple[str, ...]:
        """What it warns of, by name."""
        return tuple(name.strip() for name in self.caution.split(",") if name.strip())


@dataclass(frozen=True, slots=True)
class Access:
    """Components reached by the same strip-down, and the hours it takes.

    `reveals` names components of other groups that the strip-down lets one see.
    """

    name: str
    access_hours: float
    follow_on: tuple[str, ...] = ()
    reveals: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FollowOn:
    """What a job always entails afterwards."""

    name: str
    words: tuple[str, ...]
    labour_hours: float
    materials_cost_net: float
    sublet_cost_net: float


@dataclass(frozen=True, slots=True)
class CompanionPart:
    """A part that is always renewed with another, as a new cap with a new reservoir."""

    name: str
    part_price_net: float
    part_cost_net: float


@dataclass(frozen=True, slots=True)
class PriceList:
    """What the workshop paid from a day on: for parts by component and grade, for an hour.

    What a list leaves out stays as an earlier one has it. The newest that names a cost has
    today's, as it stands with the component and under [money].
    """

    in_force_from: date
    part_cost_net: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    labour_cost_per_hour: float | None = None


@dataclass(frozen=True, slots=True)
class Look:
    """A way of looking at parts, and how well it sees.

    `sees` is the chance that one look sees a defect that is there, by component or by one of
    its places ("coolant transfer pipe, left"); `minutes` are those that one part takes, `engine`
    says whether it must be cold or hot, `note` what else to mind. A routine visit makes the look
    marked `at_service`.
    """

    name: str
    minutes: float
    sees: Mapping[str, float]
    engine: str = ""
    at_service: bool = False
    note: str = ""

    def chance(self, component: str, position: str = "") -> float:
        """The chance to see a defect of the component in this place; 0: it cannot be seen."""
        return self.sees.get(f"{component}, {position}", self.sees.get(component, 0.0))


@dataclass(frozen=True, slots=True)
class CandidateJob:
    """A job the workshop thinks of offering at a fixed price.

    `companion_parts` belong to this job beside those of the components that it renews.
    """

    name: str
    renews: tuple[str, ...]
    grade: str
    warranty_months: int
    present_price_net: float
    companion_parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Money:
    """Rates and the risk the workshop will bear."""

    labour_price_per_hour: float
    labour_cost_per_hour: float
    tax_rate: float
    target_margin: float
    job_loss_risk: float
    year_loss_risk: float


@dataclass(frozen=True, slots=True)
class PriceRules:
    """How a fixed price is judged.

    Hours scatter around the book's by `book_hours_spread` (standard deviation of the log), the
    book being worth `prior_weight_jobs` past jobs; at `most_hours_over_book` times the book the
    work stops and the customer is asked. Found work costs about `found_work_size_net` until
    some has been seen. Below `fewest_past_jobs`, or `fewest_jobs_next_year`, or where the risks
    raise the price by more than `most_loading_share`, there is no plain offer. Records hold no
    job that was called off: `cancelled_share` of bookings are, each at `cancellation_cost_net`.
    """

    book_hours_spread: float
    prior_weight_jobs: float
    most_hours_over_book: float
    found_work_size_net: float
    other_version_weight: float
    fewest_past_jobs: float
    fewest_jobs_next_year: float
    most_loading_share: float
    cancelled_share: float = 0.0
    cancellation_cost_net: float = 0.0


@dataclass(frozen=True, slots=True)
class StockRules:
    """What keeping parts, and not having them, costs the workshop.

    `lead_time_days` has one time for each part grade, from order to shelf. A job finds its part
    there with the chance `service_level`. Holding costs `holding_rate_per_year` of a part's cost;
    a job that has to wait for its part costs `stock_out_cost_net`.
    """

    lead_time_days: Mapping[str, float]
    service_level: float
    holding_rate_per_year: float
    stock_out_cost_net: float


@dataclass(frozen=True, slots=True)
class Words:
    """The words by which job text says what was done, found and fitted.

    `routine` words mark a visit that came by the calendar, not because something failed.
    """

    renewed: tuple[str, ...]
    failure: tuple[str, ...]
    degraded: tuple[str, ...] = ()
    preventive: tuple[str, ...] = ()
    sound: tuple[str, ...] = ()
    negation: tuple[str, ...] = ()
    routine: tuple[str, ...] = ()
    positions: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    grades: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    grade_of_part_number: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All that workshop.toml says.

    Distances are reckoned and shown in `distances_in`, days written as `date_format` says.
    """

    name: str
    note: str
    currency: str
    records_until: date
    pseudonym_key: str
    money: Money | None
    words: Words
    access_groups: Mapping[str, Access]
    follow_on: Mapping[str, FollowOn]
    components: Mapping[str, Component]
    fixed_price_jobs: tuple[CandidateJob, ...]
    odometer_tolerance_mi: float
    observation_rule: str
    book_months: int
    price_rules: PriceRules | None
    stock: StockRules | None = None
    looks: Mapping[str, Look] = field(default_factory=dict)
    companion_parts: Mapping[str, CompanionPart] = field(default_factory=dict)
    price_lists: tuple[PriceList, ...] = ()
    distances_in: str = DISTANCES_UNSAID
    date_format: str = DATES_UNSAID

    @property
    def units(self) -> Mapping[str, str]:
        """The unit of each scale."""
        return {"age": "years", "distance": self.distances_in}

    @property
    def component_units(self) -> Mapping[str, str]:
        """The unit in which each component's life is told."""
        return {name: self.units[c.scale] for name, c in self.components.items()}

    @property
    def per_mile(self) -> float:
        """How many units of distance make a mile, by which records hold it."""
        return PER_MILE[self.distances_in]

    def group(self, name: str) -> tuple[Component, ...]:
        """The components behind one access; an unknown name is a caller's mistake."""
        if name not in self.access_groups:
            known = ", ".join(self.access_groups)
            raise ValueError(f"no access group {name!r}; workshop.toml has {known}")
        return tuple(c for c in self.components.values() if c.access_group == name)

    def component(self, name: str) -> Component:
        """One component by its name; an unknown name is a caller's mistake."""
        if name not in self.components:
            known = ", ".join(self.components)
            raise ValueError(f"no component {name!r}; workshop.toml has {known}")
        return self.components[name]
