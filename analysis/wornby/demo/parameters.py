"""Everything one may turn in the invented world: lives, habits, loyalty and dirt."""

from dataclasses import dataclass, field, fields, replace
from datetime import date


@dataclass(frozen=True, slots=True)
class TrueLife:
    """How long an original fitment lasts: Weibull, in years or miles as the catalogue's scale says.

    `degraded_years` is the mean of the last stretch in which the part still works but shows;
    0 says that it gives no warning. `side_correlation` ties left and right of one vehicle by a
    Gaussian copula, so that each alone stays Weibull. `added_by_other` lets a part wear by both
    scales: the years that a mile adds where the catalogue counts in years, or the miles that a
    year adds; the life is then one of age and distance so blended.
    """

    shape: float
    scale_value: float
    degraded_years: float = 0.0
    side_correlation: float = 0.0
    added_by_other: float = 0.0


TRUE_LIVES = {
    "clutch slave cylinder": TrueLife(2.6, 15.0),
    "rear main seal": TrueLife(3.5, 24.0),
    "gearbox mount": TrueLife(3.0, 140_000.0),
    "gear linkage bush": TrueLife(2.2, 18.0),
    "heater matrix": TrueLife(3.8, 17.0),
    "blower resistor": TrueLife(1.3, 22.0),
    "heater valve": TrueLife(2.0, 40.0, degraded_years=0.5),
    "coolant transfer pipe": TrueLife(4.2, 16.0, degraded_years=0.5, side_correlation=0.6),
    "anti-roll bar bush": TrueLife(2.4, 95_000.0, degraded_years=0.5, side_correlation=0.4),
    "brake pipe above the axle": TrueLife(5.0, 19.0, degraded_years=1.0),
    "timing belt": TrueLife(4.5, 130_000.0),
    "belt tensioner": TrueLife(2.8, 150_000.0),
    "water pump": TrueLife(2.8, 14.0, degraded_years=0.5),
    "thermostat": TrueLife(1.8, 13.0),
}


@dataclass(frozen=True, slots=True)
class Grade:
    """A part grade: how often it is fitted, and its life against an original's.

    `shape` replaces the component's own shape; None keeps it.
    """

    share: float
    scale_factor: float
    shape: float | None


GRADES = {
    "genuine": Grade(0.45, 1.0, None),
    "original-equipment": Grade(0.35, 0.9, None),
    "aftermarket": Grade(0.20, 0.4, 1.2),
}


@dataclass(frozen=True, slots=True)
class DirtRates:
    """How often each thing goes wrong in the records.

    Shares of jobs, unless the name says lines or vehicles; `n_` are plain numbers of vehicles.
    """

    odometer_km_marked: float = 0.01
    odometer_km_unmarked: float = 0.005
    odometer_digit_dropped: float = 0.005
    odometer_rolled_back: float = 0.003
    odometer_blank: float = 0.04
    n_instruments_replaced: int = 3
    odometer_thousands_separator: float = 0.5
    date_in_another_form: float = 0.05
    date_unreadable: float = 0.003
    date_in_the_future: float = 0.001
    date_blank: float = 0.001
    registration_retyped: float = 0.05
    registration_unknown: float = 0.005
    n_registrations_transferred: int = 2
    invoice_twice: float = 0.007
    credit_lines: float = 0.005
    impossible_number_lines: float = 0.001
    first_registered_missing_vehicles: float = 0.015
    name_mistyped_lines: float = 0.01


NO_DIRT = DirtRates(**{f.name: 0 for f in fields(DirtRates)})


@dataclass(frozen=True, slots=True)
class Recall:
    """How owners remember, in the survey, when and whether a part was renewed.

    Chances of one answer. `bias_years` above 0 remembers too late, below too early; a heaped
    year is the nearest that ends in 0 or 5, said with "about".
    """

    unsure_of_original: float = 0.25
    unsure_of_renewed: float = 0.15
    forgotten: float = 0.05
    bias_years: float = 0.0
    sd_years: float = 0.8
    heaped: float = 0.25
    about: float = 0.4
    year_told: float = 0.85


@dataclass(frozen=True, slots=True)
class WorldParameters:
    """The invented workshop, its vans and their owners.

    Rates are chances at one visit unless the name says otherwise. The generator of random
    numbers is not among them: it is handed over beside them. What is 0 unless it is turned up
    makes the records of a workshop hostile to whoever counts lives from them:

    - `frailty_variance`: vans are unlike. The hazard of every part of a van (or only of the
      `frail_components`) is multiplied by the van's own factor of mean 1 and this variance, by
      the `frailty_law` gamma or lognormal.
    - `quiet_failures`: the chance that the owner does not notice a failure, which is then found
      at the next service. Elsewhere, before the first visit, it is renewed when it fails.
    - `precaution_of_worn`: the chance at a look that a part about to fail is renewed with
      nothing written but a precaution; it falls to 0 for parts `worn_shows_years` from failing.
    - `lost_after_big_bill`: the further chance that an owner stays away after paying for a
      failure whose repair costs `big_bill_net` or more; `given_up_at_big_bill`: the chance that
      such a failure never comes to the workshop, nor the van again.
    """

    n_vehicles: int = 400
    records_from: date = date(2013, 1, 1)
    records_until: date = date(2024, 12, 31)
    new_system_from: date = date(2019, 1, 1)

    first_model_year: int = 2003
    last_model_year: int = 2014
    version_shares: dict[str, float] = field(
        default_factory=lambda: {"short": 0.4, "long": 0.4, "high-roof": 0.2}
    )
    median_miles_per_year: float = 8_000.0
    sd_log_miles: float = 0.45
    sd_reading_mi: float = 30.0

    lives: dict[str, TrueLife] = field(default_factory=lambda: dict(TRUE_LIVES))
    grades: dict[str, Grade] = field(default_factory=lambda: dict(GRADES))
    frailty_law: str = "gamma"
    frailty_variance: float = 0.0
    frail_components: tuple[str, ...] | None = None

    in_the_book_at_start: float = 0.3
    first_age_years: float = 2.0
    last_age_years: float = 16.0
    arrives_with_failure: float = 0.15
    mean_days_to_visit: float = 4.0
    most_days_to_visit: float = 13.0
    years_between_services: float = 1.0
    sd_years_between_services: float = 0.125
    service_brought_forward_days: float = 30.0
    lost_after_visit: float = 0.09
    big_bill_net: float = 450.0
    lost_after_big_bill: float = 0.0
    given_up_at_big_bill: float = 0.0
    quiet_failures: float = 0.0

    degraded_seen: float = 0.5
    degraded_renewed_if_seen: float = 0.7
    found_with_gearbox_out: float = 0.8
    belt_due_years: float = 10.0
    belt_due_mi: float = 70_000.0
    belt_renewed_when_due: float = 0.4
    precaution: float = 0.35
    precaution_from_share_of_scale: tuple[float, float] = (0.55, 0.70)
    precaution_of_worn: float = 0.0
    worn_shows_years: float = 2.0

    intake_inspection: float = 0.9
    original_seen_as_original: float = 0.95
    renewed_seen_as_renewed: float = 0.6
    checks_per_place_at_service: float = 0.1

    reason_in_another_line: float = 0.25
    precaution_not_explained: float = 0.10
    part_number_missing: float = 0.15
    side_not_said: float = 0.08
    materials_written_out: float = 0.22
    hours_sd_log: float = 0.2
    price_growth_per_year: float = 0.03

    n_respondents: int = 130
    respondents_from_workshop: float = 0.6
    trouble_answers_more: float = 0.15
    recall: Recall = field(default_factory=Recall)
    vans_built_per_year: int = 750

    dirt: DirtRates = field(default_factory=DirtRates)

    def without_dirt(self) -> "WorldParameters":
        """The same world with records kept by someone who never slips."""
        return replace(self, dirt=NO_DIRT)
