"""The curves of a workshop's components, each on the scale on which it wears."""

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from wornby.curves.few_failures import WeibullPosterior, weibull_posterior
from wornby.curves.intervals import TurnbullCurve, turnbull
from wornby.curves.nonparametric import SurvivalCurve, kaplan_meier
from wornby.curves.parametric import WeibullCurve, weibull
from wornby.curves.shape_prior import CAR_COMPONENT
from wornby.errors import EstimateError
from wornby.histories.counts import Counts, count_episodes, scale_of
from wornby.histories.watching import Episodes
from wornby.progress import each

ENOUGH_FAILURES = 5
"""With fewer failures a curve is the posterior under the stated prior, not a fit."""


@dataclass(frozen=True, eq=False, slots=True)
class ComponentCurve:
    """One component's life: the counts, the curves through them and what they leave open.

    `nonparametric` is Kaplan-Meier's, or Turnbull's where failures are known within bounds.

    `weibull` is None where there are too few failures to fit one; `reason` then says so, and
    answers come from the posterior.
    """

    component: str
    origin: str
    counts: Counts
    nonparametric: SurvivalCurve | TurnbullCurve
    posterior: WeibullPosterior
    weibull: WeibullCurve | None
    reason: str

    @property
    def by_age(self) -> bool:
        """Whether its life is told in years, not in distance."""
        return scale_of(self.counts.unit) == "age"


def component_curves(
    made: Episodes, units: Mapping[str, str], *, origin: str, confidence: float
) -> dict[str, ComponentCurve]:
    """A curve for each component with an episode, original or renewed fitments.

    `units` has years for a component that wears by age, miles or kilometres for one that does by
    distance. ValueError: a unit or a confidence that is none. EstimateError: a posterior past
    reckoning, see `weibull_posterior`.

    >>> from wornby.histories.observation import WORKSHOP
    >>> from wornby.ledger import Ledger
    >>> days = [1500, 2000, 2400, 2600, 3000, 3300, 4000]
    >>> table = pl.DataFrame({"exit_days": days, "sound_days": days}).with_columns(
    ...     component=pl.lit("pump"),
    ...     origin=pl.lit("original"),
    ...     entry_days=pl.lit(365),
    ...     failed=pl.col("exit_days") < 3200,
    ...     weight=pl.lit(1.0),
    ... )
    >>> made = Episodes(table, WORKSHOP, Ledger("fitments", 7, 7))
    >>> curves = component_curves(made, {"pump": "years"}, origin="original", confidence=0.9)
    >>> pump = curves["pump"]
    >>> pump.counts.unit, pump.counts.n_failures, round(pump.weibull.b_life(0.1), 1)
    ('years', 5.0, 4.0)
    """
    of_origin = made.table.filter(pl.col("origin") == origin)
    by_component = of_origin.partition_by("component", as_dict=True)
    curves = {}
    for component, unit in each(list(units.items()), "curves"):
        lives = by_component.get((component,), of_origin.clear())
        what = f"{component} ({origin})"
        counts = count_episodes(lives, unit=unit, what=what, rule=made.rule.sentence())
        if counts.n_lives:
            curves[component] = curve_of(component, counts, origin=origin, confidence=confidence)
    return curves


def curve_of(component: str, counts: Counts, *, origin: str, confidence: float) -> ComponentCurve:
    """The curves through one component's counts, exact or within bounds.

    Ages are in the unit of the counts. EstimateError as `weibull_posterior`; a Weibull that cannot
    be fitted is None, with its reason.
    """
    fitted, reason = _fitted(counts)
    lower, upper = counts.table["lower"], counts.table["upper"]
    exact = ((lower == upper) | upper.is_infinite()).all()
    return ComponentCurve(
        component=component,
        origin=origin,
        counts=counts,
        nonparametric=kaplan_meier(counts, confidence=confidence) if exact else turnbull(counts),
        posterior=weibull_posterior(counts, prior=CAR_COMPONENT),
        weibull=fitted,
        reason=reason,
    )


def _fitted(counts: Counts) -> tuple[WeibullCurve | None, str]:
    if counts.n_failures < ENOUGH_FAILURES:
        return None, f"{counts.n_failures:g} failures: the prior for the shape counts"
    try:
        return weibull(counts), ""
    except EstimateError as error:
        return None, str(error)
