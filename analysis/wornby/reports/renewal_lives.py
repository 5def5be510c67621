"""How a renewed part is taken to live where its renewal is planned: the curve that fits."""

from dataclasses import dataclass

from wornby.curves.components import ENOUGH_FAILURES
from wornby.curves.stepped_hazards import HazardDraws, smoothed_draws
from wornby.curves.uncertainty import WeibullDraws
from wornby.errors import EstimateError
from wornby.histories.counts import YEARS
from wornby.records.catalogue import Component
from wornby.reports.fit_answers import fits_of
from wornby.reports.workshop import N_DRAWS, RENEWAL_GRADE, Workshop, life_curve, pace_of

STEP_DRAWS = 400
WEIBULL_LIFE, SMOOTHED_LIFE = "Weibull", "smoothed from the failures"


@dataclass(frozen=True, eq=False, slots=True)
class RenewalLife:
    """Draws of a renewed part's life in years, the form of its curve, and what was borrowed.

    `failures` are those that the curve rests on.
    """

    draws: WeibullDraws | HazardDraws
    form: str
    note: str
    failures: float

    @property
    def too_few(self) -> str:
        """What is said in the place of an age, where so few failed that it would be the prior's."""
        few = self.failures < ENOUGH_FAILURES
        return f"too few failures ({self.failures:.0f}) to say" if few else ""


def renewal_life(workshop: Workshop, component: Component) -> RenewalLife:
    """The life of a new part of the grade that advice takes, in years at the median pace.

    A Weibull, unless the test of fit rejects it for this curve: then one of no given form,
    smoothed from the failures themselves.
    """
    curve, note = life_curve(workshop, component.name, origin="renewed", grade=RENEWAL_GRADE)
    fit = None
    if curve.origin == "original":
        fit = fits_of(workshop, rejected_only=True)[0].get(component.name)
    rng, form = workshop.rng(f"{component.name} {curve.counts.what}"), WEIBULL_LIFE
    draws: WeibullDraws | HazardDraws
    if fit is not None and fit.weibull_fits is False:
        draws, form = smoothed_draws(curve.counts, n=STEP_DRAWS, rng=rng), SMOOTHED_LIFE
        note = "; ".join(one for one in (f"{component.name}: {fit.verdict}", note) if one)
    else:
        draws = curve.posterior.draws(rng, N_DRAWS)
    if component.scale == "age":
        return RenewalLife(draws, form, note, curve.counts.n_failures)
    pace = pace_of(workshop)
    if pace.miles_per_year <= 0:
        raise EstimateError(f"{component.name}: wears by distance, and no pace is known")
    in_years = draws.on_scale(pace.per_year, YEARS)
    return RenewalLife(in_years, form, note, curve.counts.n_failures)
